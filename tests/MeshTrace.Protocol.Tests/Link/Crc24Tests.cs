using CsCheck;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Protocol.Tests.Link;

public sealed class Crc24Tests
{
    [Fact]
    public void CheckValue_IsTheCalculatedOne() =>
        // Calculated bit by bit from the polynomial and initial value of volume 6 part B §3.1.1.
        Assert.Equal(0xC25A56u, Crc24.Compute("123456789"u8));

    [Fact]
    public void EveryLength_AgreesWithTheRegisterOfTheFigure()
    {
        byte[] octets = new byte[300];
        new Random(24).NextBytes(octets);
        for (int length = 0; length <= 270; length++)
            foreach (uint initial in (uint[])[Crc24.AdvertisingInitial, 0x000000, 0xFFFFFF, 0x123456])
            {
                ReadOnlySpan<byte> pdu = octets.AsSpan(length % 17, length);
                byte[] sent = new byte[3];
                Crc24.Write(sent, Crc24.Compute(pdu, initial));
                Assert.Equal(RadioRegisters.Crc(pdu, initial), sent);
                Assert.True(Crc24.IsRight(pdu, sent, initial));
            }
    }

    [Fact]
    public void ConstantsOfFolding_AreWhatTheyAreDefinedAs() => Assert.Equal(Crc24Folding.DefinedConstants, Crc24Folding.Constants);

    [Fact]
    public void BothWays_GiveTheSame() => Gen.Byte.Array[Crc24Folding.Shortest, 300].Sample(octets =>
    {
        const uint Register = 0xAAAAAA;
        if (!Crc24Folding.IsSupported)
            return true;   // then there is one way only, checked above
        return Crc24Folding.Compute(octets, Register) == Crc24.ComputeFromTables(octets, Register);
    });

    [Fact]
    public void EveryChangedBit_IsNoticed()
    {
        byte[] pdu = new byte[39];
        new Random(3).NextBytes(pdu);
        byte[] crc = new byte[3];
        Crc24.Write(crc, Crc24.Compute(pdu));
        for (int bit = 0; bit < 8 * pdu.Length; bit++)
        {
            pdu[bit / 8] ^= (byte)(1 << bit % 8);
            Assert.False(Crc24.IsRight(pdu, crc));
            pdu[bit / 8] ^= (byte)(1 << bit % 8);
        }
    }
}
