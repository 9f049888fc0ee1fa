using CsCheck;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Tests.Keys;

public sealed class KeyArgumentsTests
{
    private const string One = "1E5AB60C77D2493F8811C0DE4B6A9F23", Two = "90A4F1D35E2C4B8EA7036D19BB5C82E4", Three = "A2D94F6E0B7C4135962E8D1F5C3A70B8";

    private static KeyArguments Read(
        (KeyArgumentOption, string)[] typed, Dictionary<string, string>? environment = null, Dictionary<string, string>? files = null) =>
        KeyArgumentsReader.Read(
            typed,
            name => environment?.GetValueOrDefault(name),
            name => files?.GetValueOrDefault(name) ?? throw new FileNotFoundException($"Could not find {name}"));

    private static string Refused(KeyArgumentOption option, string text, Dictionary<string, string>? files = null) =>
        Assert.Throws<KeyArgumentException>(() => Read([(option, text)], files: files)).Message;

    private static string Hex(KeyOctets key) => Convert.ToHexString(key.Octets);

    [Fact]
    public void Nothing_IsEmpty()
    {
        Assert.True(Read([]).IsEmpty);
        Assert.True(KeyArguments.None.IsEmpty);
    }

    [Theory]
    [InlineData(One, null)]
    [InlineData("0=" + One, 0)]
    [InlineData("4095=" + One, 4095)]
    [InlineData("0xFFF=" + One, 4095)]
    [InlineData(" 7 = " + One + " ", 7)]
    [InlineData("7=1e5ab60c77d2493f8811c0de4b6a9f23", 7)]
    [InlineData("0x1E5AB60C77D2493F8811C0DE4B6A9F23", null)]
    [InlineData("1E 5A B6 0C 77 D2 49 3F 88 11 C0 DE 4B 6A 9F 23", null)]
    [InlineData("1E:5A:B6:0C:77:D2:49:3F:88:11:C0:DE:4B:6A:9F:23", null)]
    [InlineData("1E5AB60C-77D2-493F-8811-C0DE4B6A9F23", null)]
    public void NetAndAppKeys(string text, int? index)
    {
        KeyArguments keys = Read([(KeyArgumentOption.NetKey, text), (KeyArgumentOption.AppKey, text)]);
        TypedKey netKey = Assert.Single(keys.NetKeys);
        TypedKey appKey = Assert.Single(keys.AppKeys);
        Assert.Equal((index, One), (netKey.Index, Hex(netKey.Key)));
        Assert.Equal((index, One), (appKey.Index, Hex(appKey.Key)));
        Assert.False(keys.IsEmpty);
    }

    [Theory]
    [InlineData("0002=" + One, 0x0002)]
    [InlineData("0x7FFF=" + One, 0x7FFF)]
    [InlineData("10=" + One, 0x0010)]
    public void DeviceKeys(string text, int address)
    {
        TypedDeviceKey key = Assert.Single(Read([(KeyArgumentOption.DeviceKey, text)]).DeviceKeys);
        Assert.Equal((new MeshAddress((ushort)address), One), (key.Node, Hex(key.Key)));
    }

    [Theory]
    [InlineData("0073e7e4-d8b9-440f-af84-15df4c56c0e1")]
    [InlineData("0073E7E4D8B9440FAF8415DF4C56C0E1")]
    public void Labels(string text) =>
        Assert.Equal([Guid.Parse("0073e7e4-d8b9-440f-af84-15df4c56c0e1")], Read([(KeyArgumentOption.Label, text)]).Labels);

    [Theory]
    [InlineData("0", 0u)]
    [InlineData("4294967295", uint.MaxValue)]
    [InlineData("0x12345678", 0x12345678u)]
    [InlineData(" 0XFF ", 255u)]
    public void IvIndex(string text, uint ivIndex) => Assert.Equal([ivIndex], Read([(KeyArgumentOption.IvIndex, text)]).IvIndexes);

    [Theory]
    [InlineData(KeyArgumentOption.NetKey, "1E5AB60C77D2493F8811C0DE4B6A9F2", "--net-key: 31 hex digits, 32 needed")]
    [InlineData(KeyArgumentOption.NetKey, "1E5AB60C77D2493F8811C0DE4B6A9F2Z", "--net-key: character 32 is no hex digit, 32 hex digits needed")]
    [InlineData(KeyArgumentOption.NetKey, "", "--net-key: a value is needed: [INDEX=]HEX")]
    [InlineData(KeyArgumentOption.NetKey, "4096=" + One, "--net-key: the index before = must be a whole number 0..4095")]
    [InlineData(KeyArgumentOption.AppKey, "-1=" + One, "--app-key: the index before = must be a whole number 0..4095")]
    [InlineData(KeyArgumentOption.AppKey, One + "=1", "--app-key: the index before = must be a whole number 0..4095")]
    [InlineData(KeyArgumentOption.AppKey, "1=", "--app-key: 0 hex digits, 32 needed")]
    [InlineData(KeyArgumentOption.DeviceKey, One, "--device-key: the address of the node is missing, ADDRESS=HEX needed")]
    [InlineData(KeyArgumentOption.DeviceKey, "0000=" + One, "--device-key: the address before = must be a unicast address, 0001..7FFF")]
    [InlineData(KeyArgumentOption.DeviceKey, "C001=" + One, "--device-key: the address before = must be a unicast address, 0001..7FFF")]
    [InlineData(KeyArgumentOption.DeviceKey, One + "=2", "--device-key: the address before = must be a unicast address, 0001..7FFF")]
    [InlineData(KeyArgumentOption.Label, "0073e7e4-d8b9-440f-af84", "--label: 20 hex digits, 32 needed")]
    [InlineData(KeyArgumentOption.IvIndex, "4294967296", "--iv-index: a whole number 0..4294967295 needed, in decimal or as 0x and hex digits")]
    [InlineData(KeyArgumentOption.IvIndex, "FF", "--iv-index: a whole number 0..4294967295 needed, in decimal or as 0x and hex digits")]
    [InlineData(KeyArgumentOption.IvIndex, "0x", "--iv-index: a whole number 0..4294967295 needed, in decimal or as 0x and hex digits")]
    [InlineData(KeyArgumentOption.IvIndex, "-1", "--iv-index: a whole number 0..4294967295 needed, in decimal or as 0x and hex digits")]
    [InlineData(KeyArgumentOption.NetKey, "@", "--net-key: a file name is needed after @")]
    [InlineData(KeyArgumentOption.NetKey, "@absent.keys", "--net-key: absent.keys does not exist")]
    [InlineData(KeyArgumentOption.NetKey, "@" + One, "--net-key: the file does not exist")]
    public void BadValue_IsNamedNotRepeated(KeyArgumentOption option, string text, string message) => Assert.Equal(message, Refused(option, text));

    [Fact]
    public void File_HasOneValueALine()
    {
        KeyArguments keys = Read([(KeyArgumentOption.NetKey, "@site.keys")], files: new()
        {
            ["site.keys"] = $"\uFEFF# keys of the library\r\n0={One}   # house\r\n\r\n  {Two}\n\t7={Three}",
        });
        Assert.Equal([(0, One), (null, Two), (7, Three)], keys.NetKeys.Select(key => (key.Index, Hex(key.Key))));
    }

    [Theory]
    [InlineData("# nothing\n\n", "--net-key: site.keys holds no value")]
    [InlineData("", "--net-key: site.keys holds no value")]
    [InlineData("\n0=12\n", "--net-key, line 2 of site.keys: 2 hex digits, 32 needed")]
    [InlineData("@other.keys", "--net-key, line 1 of site.keys: a file of values cannot name another file")]
    public void BadFile_NamesItsLine(string content, string message) =>
        Assert.Equal(message, Refused(KeyArgumentOption.NetKey, "@site.keys", new() { ["site.keys"] = content }));

    [Fact]
    public void FileThatCannotBeRead_IsSaid()
    {
        var problem = Assert.Throws<KeyArgumentException>(() => KeyArgumentsReader.Read(
            [(KeyArgumentOption.AppKey, "@secret\u001b.keys")], _ => null, _ => throw new UnauthorizedAccessException("denied")));
        Assert.Equal("--app-key: secret.keys cannot be read", problem.Message);
    }

    [Fact]
    public void HugeFile_IsRefused() => Assert.Equal("--net-key: site.keys has 1048577 characters, at most 1048576 are read",
        Refused(KeyArgumentOption.NetKey, "@site.keys", new() { ["site.keys"] = new string('#', KeyArgumentsReader.LongestFile + 1) }));

    [Fact]
    public void Environment_AddsToWhatIsTyped()
    {
        KeyArguments keys = Read(
            [(KeyArgumentOption.NetKey, $"0={One}"), (KeyArgumentOption.IvIndex, "9")],
            new()
            {
                ["MESHTRACE_NET_KEY"] = $"7={Two}, 0={One},",
                ["MESHTRACE_APP_KEY"] = "@site.keys",
                ["MESHTRACE_DEVICE_KEY"] = $"0002={One},0x0010={Two}",
                ["MESHTRACE_LABEL"] = "0073E7E4D8B9440FAF8415DF4C56C0E1",
                ["MESHTRACE_IV_INDEX"] = "0x10",
            },
            new() { ["site.keys"] = Three });
        Assert.Equal([(0, One), (7, Two)], keys.NetKeys.Select(key => (key.Index, Hex(key.Key))));   // the repeated one stands once
        Assert.Equal([Three], keys.AppKeys.Select(key => Hex(key.Key)));
        Assert.Equal([(ushort)0x0002, (ushort)0x0010], keys.DeviceKeys.Select(key => key.Node.Value));
        Assert.Single(keys.Labels);
        Assert.Equal([9u, 16u], keys.IvIndexes);
    }

    [Theory]
    [InlineData("12", "MESHTRACE_NET_KEY: 2 hex digits, 32 needed")]
    [InlineData(One + ",12", "MESHTRACE_NET_KEY, value 2: 2 hex digits, 32 needed")]
    [InlineData("@site.keys", "MESHTRACE_NET_KEY: site.keys does not exist")]
    public void BadVariable_IsNamed(string variable, string message)
    {
        var problem = Assert.Throws<KeyArgumentException>(() => Read([], new() { ["MESHTRACE_NET_KEY"] = variable }));
        Assert.Equal(message, problem.Message);
    }

    [Theory]
    [InlineData(null)]
    [InlineData("")]
    [InlineData("  ")]
    [InlineData(",,")]
    public void EmptyVariable_GivesNothing(string? variable) =>
        Assert.True(KeyArgumentsReader.Read([], name => name == "MESHTRACE_NET_KEY" ? variable : null, _ => "").IsEmpty);

    [Fact]
    public void NothingThatShowsItself_ShowsAKey()
    {
        KeyArguments keys = Read([(KeyArgumentOption.NetKey, One), (KeyArgumentOption.DeviceKey, $"2={Two}")]);
        string shown = $"{keys} {keys.NetKeys[0]} {keys.DeviceKeys[0]}";
        Assert.DoesNotContain(One[..6], shown, StringComparison.OrdinalIgnoreCase);
        Assert.DoesNotContain(Two[..6], shown, StringComparison.OrdinalIgnoreCase);
    }

    /// <summary>A key with characters changed, dropped or doubled anywhere: read or refused, and no six of its characters repeated.</summary>
    [Fact]
    public void AnySlipOfTheHand_RepeatsNothing() =>
        Gen.Select(Gen.Enum<KeyArgumentOption>(), Gen.OneOf("", "0=", "0002=", "@"), Gen.Int[0, 31], Gen.Int[0, 3], Gen.Char.Array[0, 2]).Sample(
            (option, before, at, taken, put) =>
            {
                string text = before + One[..at] + new string(put) + One[Math.Min(at + taken, One.Length)..];
                try
                {
                    Read([(option, text)]);
                }
                catch (KeyArgumentException problem)
                {
                    for (int i = 0; i + 6 <= One.Length; i++)
                        Assert.DoesNotContain(One.Substring(i, 6), problem.ToString(), StringComparison.OrdinalIgnoreCase);
                }
            }, iter: 1_000, threads: 1);
}
