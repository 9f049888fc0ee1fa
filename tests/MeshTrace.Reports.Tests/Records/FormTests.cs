using System.Globalization;
using System.Text;
using System.Text.Json;
using CsCheck;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.Link;
using MeshTrace.Reports.Records;

namespace MeshTrace.Reports.Tests.Records;

/// <summary>The forms of single values (docs/records.md, "Forms").</summary>
public sealed class FormTests
{
    private readonly TimeText _time = new();

    [Theory]
    [InlineData(0, "1970-01-01T00:00:00.000000000Z")]
    [InlineData(1, "1970-01-01T00:00:00.000000001Z")]
    [InlineData(-1, "1969-12-31T23:59:59.999999999Z")]
    [InlineData(-1_000_000_000, "1969-12-31T23:59:59.000000000Z")]
    [InlineData(951_782_399_999_999_999, "2000-02-28T23:59:59.999999999Z")]
    [InlineData(951_782_400_000_000_000, "2000-02-29T00:00:00.000000000Z")]
    [InlineData(long.MaxValue, "2262-04-11T23:47:16.854775807Z")]
    [InlineData(long.MinValue + 1, "1677-09-21T00:12:43.145224193Z")]
    public void Time_HasNineDecimals(long ns, string text)
    {
        Assert.True(_time.TryFormat(ns, out ReadOnlySpan<byte> written));
        Assert.Equal(text, Encoding.ASCII.GetString(written));
    }

    [Fact]
    public void Time_ThatIsNotKnown_HasNoText() => Assert.False(_time.TryFormat(CapturedFrame.NoTime, out _));

    [Fact]
    public void Time_AgreesWithTheLibraryForAnyOrder() =>
        Gen.Long[-4_000_000_000_000_000_000, 9_000_000_000_000_000_000].Array[1, 20].Sample(times =>
        {
            foreach (long ns in times)
            {
                _time.TryFormat(ns, out ReadOnlySpan<byte> written);
                long ticks = Math.DivRem(ns, 100, out long rest);
                if (rest < 0)
                    (ticks, rest) = (ticks - 1, rest + 100);
                string expected = DateTimeOffset.UnixEpoch.AddTicks(ticks).ToString("yyyy-MM-ddTHH:mm:ss.fffffff", CultureInfo.InvariantCulture) + rest.ToString("00", CultureInfo.InvariantCulture) + "Z";
                Assert.Equal(expected, Encoding.ASCII.GetString(written));
            }
        }, threads: 1);

    [Theory]
    [InlineData(0x000000000000, "00:00:00:00:00:00")]
    [InlineData(0xC0FFEE001234, "C0:FF:EE:00:12:34")]
    [InlineData(0xFFFFFFFFFFFF, "FF:FF:FF:FF:FF:FF")]
    public void DeviceAddress_MostSignificantOctetFirst(ulong address, string text) => Assert.Equal(text, JsonForms.DeviceAddressText(address));

    [Fact]
    public void Duration_OfFarApartTimes_DoesNotOverflow() =>
        Assert.Equal(1.8446744073709552e13, JsonForms.Milliseconds(long.MinValue + 1, long.MaxValue)!.Value, 1e3);

    /// <summary>Whatever octets stand behind an opcode: one object, every name once in each object, numbers that are JSON.</summary>
    [Fact]
    public void Fields_OfEveryMessageAndAnyOctets_AreGoodJson()
    {
        IReadOnlyList<MessageDefinition> all = AccessCatalogue.All;
        Gen.Int[0, all.Count - 1].Select(Gen.Byte.Array[0, 40]).Sample((row, parameters) =>
        {
            var payload = new byte[3 + parameters.Length];
            int opcode = all[row].Opcode.Write(payload);
            parameters.CopyTo(payload, opcode);
            using var stream = new MemoryStream();
            var line = new JsonLine(stream);
            line.Begin("message"u8, 0);
            FieldTree.Write(line, AccessReader.Read(payload.AsSpan(0, opcode + parameters.Length)).Fields);
            line.End();
            line.Flush();
            CheckNames(JsonSerializer.Deserialize<JsonElement>(stream.ToArray()));
        }, iter: 20_000);
    }

    [Fact]
    public void Fields_OfKinds()
    {
        using var stream = new MemoryStream();
        var line = new JsonLine(stream);
        line.Json.WriteStartObject();
        FieldTree.Write(line, [
            DecodedField.OfNumber("Number", 7), DecodedField.OfNumber("Largest", -1), DecodedField.OfSigned("Signed", -7), DecodedField.OfReal("Real", 1.5f), DecodedField.OfReal("None", float.NaN),
            DecodedField.OfOctets("Octets", new byte[] { 0xAB, 0x01 }), DecodedField.OfText("Text", "lamp \"5\""), DecodedField.OfNumbers("List", 1, 2),
            DecodedField.OfGroup("Group", [DecodedField.OfNumber("Inner", 3)]), DecodedField.OfList("Groups", [DecodedField.OfGroup("Groups", [DecodedField.OfNumber("Inner", 4)])]),
        ]);
        line.End();
        line.Flush();
        JsonElement fields = JsonSerializer.Deserialize<JsonElement>(stream.ToArray()).GetProperty("fields");
        Assert.Equal(7, fields.GetProperty("Number").GetInt32());
        Assert.Equal(ulong.MaxValue, fields.GetProperty("Largest").GetUInt64());
        Assert.Equal(-7, fields.GetProperty("Signed").GetInt32());
        Assert.Equal(1.5, fields.GetProperty("Real").GetDouble());
        Assert.Equal(JsonValueKind.Null, fields.GetProperty("None").ValueKind);
        Assert.Equal("ab01", fields.GetProperty("Octets").GetString());
        Assert.Equal("lamp \"5\"", fields.GetProperty("Text").GetString());
        Assert.Equal("[1,2]", fields.GetProperty("List").GetRawText());
        Assert.Equal("{\"Inner\":3}", fields.GetProperty("Group").GetRawText());
        Assert.Equal("[{\"Inner\":4}]", fields.GetProperty("Groups").GetRawText());
    }

    private static void CheckNames(JsonElement element)
    {
        if (element.ValueKind == JsonValueKind.Object)
        {
            List<string> names = [.. element.EnumerateObject().Select(member => member.Name)];
            Assert.Equal(names.Distinct(), names);
            foreach (JsonProperty member in element.EnumerateObject())
                CheckNames(member.Value);
        }
        else if (element.ValueKind == JsonValueKind.Array)
        {
            foreach (JsonElement item in element.EnumerateArray())
                CheckNames(item);
        }
    }
}
