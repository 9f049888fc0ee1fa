using CsCheck;
using MeshTrace.Protocol.Bearer;

namespace MeshTrace.Protocol.Tests.Bearer;

public sealed class PbAdvPduTests
{
    // Mesh Protocol 1.1 §8.7.2, Link ACK.
    [Fact]
    public void SpecVector_ReadsAndWritesBack()
    {
        byte[] octets = Convert.FromHexString("23af58500007");
        Assert.True(PbAdvPdu.TryRead(octets, out PbAdvPdu pdu, out DecodeProblem problem), problem.ToString());
        Assert.Equal((0x23af5850u, 0x00), (pdu.LinkId, pdu.TransactionNumber));
        Assert.Equal([0x07], pdu.GenericProvisioningPdu.ToArray());
        byte[] written = [.. Enumerable.Repeat((byte)0xA5, 6)];
        Assert.Equal(6, PbAdvPdu.Write(written, pdu.LinkId, pdu.TransactionNumber, pdu.GenericProvisioningPdu));
        Assert.Equal(octets, written);
    }

    [Fact]
    public void EveryTruncation_IsTooShort()
    {
        byte[] octets = Convert.FromHexString("23af58500007");
        for (int length = 0; length < octets.Length; length++)
        {
            Assert.False(PbAdvPdu.TryRead(octets.AsSpan(0, length), out _, out DecodeProblem problem));
            Assert.Equal((ProblemKind.TooShort, Layer.Bearer, 6, length), (problem.Kind, problem.Layer, problem.Needed, problem.Had));
        }
    }

    [Fact]
    public void WriteThenRead_IsTheSame() => Gen.Select(Gen.UInt, Gen.Byte, Gen.Byte.Array[1, 24]).Sample((linkId, number, generic) =>
    {
        byte[] octets = [.. Enumerable.Repeat((byte)0xA5, 29)];
        int length = PbAdvPdu.Write(octets, linkId, number, generic);
        Assert.True(PbAdvPdu.TryRead(octets.AsSpan(0, length), out PbAdvPdu pdu, out _));
        Assert.Equal((linkId, number), (pdu.LinkId, pdu.TransactionNumber));
        Assert.Equal(generic, pdu.GenericProvisioningPdu.ToArray());
    });
}
