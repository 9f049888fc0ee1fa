using CsCheck;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Protocol.Tests.Link;

public sealed class AdvertisingPduTests
{
    [Fact]
    public void Fields_StandWhereTheHeaderSays()
    {
        // ADV_DIRECT_IND, ChSel, random sender, public target; addresses by hand, low octet first.
        byte[] octets = Convert.FromHexString("610c" + "010203040506" + "0708090a0b0c");
        Assert.True(AdvertisingPdu.TryRead(octets, out AdvertisingPdu pdu, out DecodeProblem problem), problem.ToString());
        Assert.Equal((AdvertisingPduType.AdvDirectInd, true, true, false, 12), (pdu.PduType, pdu.ChSel, pdu.TxAdd, pdu.RxAdd, pdu.Length));
        Assert.Equal((0x060504030201ul, 0x0c0b0a090807ul), (pdu.SenderAddress, pdu.TargetAddress));
        Assert.True(pdu.BeginsWithAdvA);
        Assert.True(pdu.AdvData.IsEmpty && pdu.LlData.IsEmpty);
    }

    [Fact]
    public void ConnectInd_HasLlData()
    {
        byte[] octets = [0x05, 34, .. Enumerable.Range(1, 34).Select(i => (byte)i)];
        Assert.True(AdvertisingPdu.TryRead(octets, out AdvertisingPdu pdu, out _));
        Assert.Equal(octets[14..], pdu.LlData.ToArray());
        Assert.False(pdu.BeginsWithAdvA);
    }

    [Theory]
    [InlineData("", ProblemKind.TooShort, 0)]
    [InlineData("02", ProblemKind.TooShort, 1)]
    [InlineData("0206010203", ProblemKind.TooShort, 5)]
    [InlineData("020601020304050607", ProblemKind.TooLong, 8)]
    [InlineData("02050102030405", ProblemKind.WrongValue, 1)]
    [InlineData("0300", ProblemKind.WrongValue, 1)]
    public void BadBytes_AreNamedNotThrown(string hex, ProblemKind kind, int offset)
    {
        Assert.False(AdvertisingPdu.TryRead(Convert.FromHexString(hex), out _, out DecodeProblem problem));
        Assert.Equal((kind, Layer.Link, offset), (problem.Kind, problem.Layer, problem.Offset));
    }

    [Fact]
    public void WriteThenRead_IsTheSame() =>
        Gen.Select(Gen.Int[0, 15], Gen.Bool, Gen.Bool, Gen.Bool, Gen.Byte.Array[0, 255]).Sample((type, chSel, txAdd, rxAdd, payload) =>
        {
            byte[] octets = Frames.Filled(300);
            int length = AdvertisingPdu.Write(octets, (AdvertisingPduType)type, chSel, txAdd, rxAdd, payload);
            if (!AdvertisingPdu.TryRead(octets.AsSpan(0, length), out AdvertisingPdu pdu, out DecodeProblem problem))
            {
                Assert.Equal(nameof(AdvertisingPdu.Length), problem.Field);   // a payload that this type cannot have
                return;
            }
            Assert.Equal(((AdvertisingPduType)type, chSel, txAdd, rxAdd), (pdu.PduType, pdu.ChSel, pdu.TxAdd, pdu.RxAdd));
            Assert.Equal(payload, pdu.Payload.ToArray());
        });

    [Fact]
    public void Names_AreTheStandards()
    {
        Assert.Equal("ADV_NONCONN_IND", AdvertisingPduTypeNames.Of(AdvertisingPduType.AdvNonconnInd));
        Assert.Equal("reserved PDU type 12", AdvertisingPduTypeNames.Of((AdvertisingPduType)12));
        Assert.Equal(9, Enum.GetValues<AdvertisingPduType>().Select(AdvertisingPduTypeNames.Of).Distinct().Count());
    }
}
