using CsCheck;
using MeshTrace.Protocol.Att;

namespace MeshTrace.Protocol.Tests.Att;

/// <summary>PDUs of the Attribute Protocol. Layouts and numbers from memory of the Core Specification, volume 3 parts F and G; the octets were laid out by hand.</summary>
public sealed class AttPduTests
{
    private static readonly AttOpcode[] ValueOpcodes = [AttOpcode.WriteCmd, AttOpcode.WriteReq, AttOpcode.HandleValueNtf, AttOpcode.HandleValueInd];

    [Theory]
    [InlineData("021701", AttOpcode.ExchangeMtuReq, true, 0x0117), InlineData("034500", AttOpcode.ExchangeMtuRsp, false, 0x0045)]
    public void Mtu_IsRead(string hex, AttOpcode opcode, bool fromClient, int mtu)
    {
        AttPdu pdu = Read(hex);
        Assert.Equal((opcode, (bool?)fromClient, mtu), (pdu.Opcode, pdu.IsFromClient, pdu.Mtu));
        byte[] written = [0xA5, 0xA5, 0xA5];
        Assert.Equal(3, AttPdu.WriteMtu(written, opcode, (ushort)mtu));
        Assert.Equal(hex, Convert.ToHexStringLower(written));
    }

    [Theory]
    [InlineData("521200030005", true, 0x0012, "030005"), InlineData("1b1400aa", false, 0x0014, "aa"), InlineData("1215000100", true, 0x0015, "0100"), InlineData("1d1400", false, 0x0014, "")]
    [InlineData("d21200aabb0102030405060708090a0b0c", true, 0x0012, "aabb")]
    public void Values_AreRead(string hex, bool fromClient, int handle, string value)
    {
        AttPdu pdu = Read(hex);
        Assert.True(pdu.CarriesValue);
        Assert.Equal(((bool?)fromClient, handle, value), (pdu.IsFromClient, pdu.Handle, Convert.ToHexStringLower(pdu.Value)));
    }

    [Fact]
    public void PrepareAndExecute_AreRead()
    {
        AttPdu prepare = Read("1612000500aabb"), execute = Read("1801"), cancel = Read("1800");
        Assert.Equal((0x0012, 5, "aabb", (bool?)true), (prepare.Handle, prepare.Offset, Convert.ToHexStringLower(prepare.Value), prepare.IsFromClient));
        Assert.False(prepare.CarriesValue);
        Assert.Equal((true, false), (execute.Executes, cancel.Executes));
        byte[] written = new byte[7];
        AttPdu.WritePrepare(written, AttOpcode.PrepareWriteReq, 0x0012, 5, [0xAA, 0xBB]);
        Assert.Equal("1612000500aabb", Convert.ToHexStringLower(written));
    }

    [Fact]
    public void Discovery_IsRead()
    {
        AttPdu ask = Read("1001 00ffff0028".Replace(" ", "", StringComparison.Ordinal)), answer = Read("110601000700001810001500 2818".Replace(" ", "", StringComparison.Ordinal));
        Assert.True(AttRange.TryRead(in ask, out AttRange range, out _));
        Assert.Equal((1, 0xFFFF, AttUuid.PrimaryService), (range.Start, range.End, range.Type!.Value));
        Assert.True(AttAnswer.TryRead(in answer, out AttAnswer list, out _));
        Assert.True(list.TryReadNext(out AttEntry first));
        Assert.True(list.TryReadNext(out AttEntry second));
        Assert.False(list.TryReadNext(out _));
        Assert.Equal((1, 7, (ushort?)0x1800), (first.Handle, first.EndHandle, AttUuid.ShortForm(first.Value)));
        Assert.Equal((0x10, 0x15, (ushort?)0x1828), (second.Handle, second.EndHandle, AttUuid.ShortForm(second.Value)));

        AttPdu characteristics = Read("09071100041200dd2a");
        Assert.True(AttAnswer.TryRead(in characteristics, out list, out _));
        Assert.True(list.TryReadNext(out first));
        Assert.True(first.TryReadCharacteristic(out ushort handle, out ushort? uuid));
        Assert.Equal((0x12, (ushort?)AttUuid.ProxyDataIn), (handle, uuid));
    }

    [Fact]
    public void LongUuids_HaveAShortFormOnTheBluetoothBaseOnly()
    {
        byte[] uuid = new byte[16];
        AttUuid.WriteLong(uuid, AttUuid.ProxyDataOut);
        Assert.Equal("fb349b5f8000008000100000de2a0000", Convert.ToHexStringLower(uuid));
        Assert.Equal(AttUuid.ProxyDataOut, AttUuid.ShortForm(uuid)!.Value);
        uuid[0] ^= 1;
        Assert.Null(AttUuid.ShortForm(uuid));
        uuid[0] ^= 1;
        uuid[15] = 1;
        Assert.Null(AttUuid.ShortForm(uuid));
    }

    [Theory]
    [InlineData("", 1), InlineData("02", 3), InlineData("0217", 3), InlineData("5212", 3), InlineData("1b00", 3), InlineData("16120005", 5), InlineData("18", 2), InlineData("d2120001020304", 15), InlineData("01", 5)]
    public void BadBytes_AreNamedNotThrown(string hex, int needed)
    {
        Assert.False(AttPdu.TryRead(Convert.FromHexString(hex), out _, out DecodeProblem problem));
        Assert.Equal((ProblemKind.TooShort, Layer.Attribute, needed), (problem.Kind, problem.Layer, problem.Needed));
    }

    [Fact]
    public void RandomOctets_AreReadToTheEnd() => Gen.Byte.Array[0, 80].Sample(octets =>
    {
        if (!AttPdu.TryRead(octets, out AttPdu pdu, out _))
            return;
        int seen = pdu.Value.Length + pdu.Parameters.Length + pdu.Handle + pdu.Mtu + pdu.Offset + (int)pdu.FailedRequest + (pdu.Executes ? 1 : 0) + (pdu.IsFromClient == true ? 1 : 0);
        Assert.True(seen >= 0);
        if (AttRange.TryRead(in pdu, out AttRange range, out _))
            Assert.True(range.Start + range.End + range.Value.Length + (range.Type ?? 0) >= 0);
        if (!AttAnswer.TryRead(in pdu, out AttAnswer answer, out _))
            return;
        int entries = 0;
        while (answer.TryReadNext(out AttEntry entry))
        {
            entry.TryReadCharacteristic(out _, out _);
            Assert.True(++entries <= octets.Length);
        }
    });

    [Fact]
    public void RoundTrip_OfValues() => Gen.Select(Gen.Int[0, 3].Select(i => ValueOpcodes[i]), Gen.UShort, Gen.Byte.Array[0, 512]).Sample((opcode, handle, value) =>
    {
        byte[] octets = new byte[3 + value.Length];
        Assert.Equal(octets.Length, AttPdu.WriteValue(octets, opcode, handle, value));
        Assert.True(AttPdu.TryRead(octets, out AttPdu pdu, out _));
        Assert.Equal((opcode, handle), (pdu.Opcode, pdu.Handle));
        Assert.Equal(value, pdu.Value.ToArray());
    });

    private static AttPdu Read(string hex)
    {
        Assert.True(AttPdu.TryRead(Convert.FromHexString(hex), out AttPdu pdu, out DecodeProblem problem), problem.ToString());
        return pdu;
    }
}
