using CsCheck;
using MeshTrace.Protocol.Provisioning;

namespace MeshTrace.Protocol.Tests.Provisioning;

public sealed class GenericProvisioningTests
{
    private enum Pdu
    {
        Start,
        Acknowledgment,
        Continuation,
        Open,
        Ack,
        Close,
    }

    private static bool TryRead(Pdu pdu, byte[] octets, out DecodeProblem problem) => pdu switch
    {
        Pdu.Start => TransactionStart.TryRead(octets, out _, out problem),
        Pdu.Acknowledgment => TransactionAcknowledgment.TryRead(octets, out _, out problem),
        Pdu.Continuation => TransactionContinuation.TryRead(octets, out _, out problem),
        Pdu.Open => LinkOpen.TryRead(octets, out _, out problem),
        Pdu.Ack => LinkAck.TryRead(octets, out _, out problem),
        _ => LinkClose.TryRead(octets, out _, out problem),
    };

    [Theory]
    [InlineData("Start", "", ProblemKind.TooShort, 0, "empty")]
    [InlineData("Start", "00000214", ProblemKind.TooShort, 4, "no data")]
    [InlineData("Start", "0100021400", ProblemKind.WrongValue, 0, "an acknowledgment")]
    [InlineData("Acknowledgment", "", ProblemKind.TooShort, 0, "empty")]
    [InlineData("Acknowledgment", "0100", ProblemKind.TooLong, 1, "one octet over")]
    [InlineData("Acknowledgment", "02", ProblemKind.WrongValue, 0, "a continuation")]
    [InlineData("Continuation", "06", ProblemKind.TooShort, 1, "no data")]
    [InlineData("Continuation", "02aa", ProblemKind.WrongValue, 0, "segment 0 stands in the start")]
    [InlineData("Continuation", "07aa", ProblemKind.WrongValue, 0, "a bearer control")]
    [InlineData("Open", "0370cf7c9732a345b691494810d2e9cb", ProblemKind.TooShort, 16, "one octet short")]
    [InlineData("Open", "0370cf7c9732a345b691494810d2e9cbf400", ProblemKind.TooLong, 17, "one octet over")]
    [InlineData("Open", "0770cf7c9732a345b691494810d2e9cbf4", ProblemKind.WrongValue, 0, "another bearer opcode")]
    [InlineData("Ack", "03", ProblemKind.WrongValue, 0, "another bearer opcode")]
    [InlineData("Ack", "0700", ProblemKind.TooLong, 1, "one octet over")]
    [InlineData("Close", "0b", ProblemKind.TooShort, 1, "no reason")]
    [InlineData("Close", "0b0000", ProblemKind.TooLong, 2, "one octet over")]
    public void BadBytes_AreNamedNotThrown(string pdu, string hex, ProblemKind kind, int offset, string why)
    {
        Assert.False(TryRead(Enum.Parse<Pdu>(pdu), Convert.FromHexString(hex), out DecodeProblem problem));
        Assert.True((problem.Kind, problem.Layer, problem.Offset) == (kind, Layer.Provisioning, offset), why);
    }

    [Fact]
    public void RandomOctets_AreOneKindAtMost() => Gen.Byte.Array[0, 30].Sample(octets =>
        Assert.True(Enum.GetValues<Pdu>().Count(pdu => TryRead(pdu, octets, out _)) <= 1));

    [Fact]
    public void WriteThenRead_IsTheSame() => Gen.Select(Gen.Byte[0, 63], Gen.UShort, Gen.Byte, Gen.Byte.Array[1, 23], Gen.Guid).Sample(
        (number, total, octet, data, uuid) =>
        {
            byte[] pdu = [.. Enumerable.Repeat((byte)0xA5, 40)];
            int length = TransactionStart.Write(pdu, number, total, octet, data);
            Assert.True(TransactionStart.TryRead(pdu.AsSpan(0, length), out TransactionStart start, out _));
            Assert.Equal((number, total, octet), (start.SegN, start.TotalLength, start.Fcs));
            Assert.Equal(data, start.Data.ToArray());

            byte index = Math.Max((byte)1, number);
            length = TransactionContinuation.Write(pdu, index, data);
            Assert.True(TransactionContinuation.TryRead(pdu.AsSpan(0, length), out TransactionContinuation continuation, out _));
            Assert.Equal(index, continuation.SegmentIndex);
            Assert.Equal(data, continuation.Data.ToArray());

            length = LinkOpen.Write(pdu, uuid);
            Assert.True(LinkOpen.TryRead(pdu.AsSpan(0, length), out LinkOpen open, out _));
            Assert.Equal(uuid, open.DeviceUuid);

            length = LinkClose.Write(pdu, (LinkCloseReason)octet);
            Assert.True(LinkClose.TryRead(pdu.AsSpan(0, length), out LinkClose close, out _));
            Assert.Equal((LinkCloseReason)octet, close.Reason);
        });

    [Theory]
    [InlineData(1, 1)]
    [InlineData(20, 1)]
    [InlineData(21, 2)]
    [InlineData(43, 2)]
    [InlineData(44, 3)]
    [InlineData(65, 3)]
    [InlineData(1469, 64)]
    public void SegmentCount_IsTwentyOctetsThenTwentyThreeEach(int length, int segments)
    {
        Assert.Equal(segments, ProvisioningSegmenter.SegmentCount(length));
        byte[] pdu = [.. Enumerable.Range(0, length).Select(i => (byte)(i & 0xFF))];
        List<byte> whole = [];
        for (int segment = 0; segment < segments; segment++)
        {
            byte[] octets = new byte[24];
            int written = ProvisioningSegmenter.Write(octets, pdu, segment);
            whole.AddRange(octets[(segment == 0 ? 4 : 1)..written]);
        }
        Assert.Equal(pdu, whole);
    }

    [Fact]
    public void SegmentCount_RefusesWhatDoesNotFit()
    {
        Assert.Throws<ArgumentOutOfRangeException>(() => ProvisioningSegmenter.SegmentCount(0));
        Assert.Throws<ArgumentOutOfRangeException>(() => ProvisioningSegmenter.SegmentCount(1470));
    }

    [Theory]
    [InlineData(0x08, "Transaction Start")]
    [InlineData(0x01, "Transaction Acknowledgment")]
    [InlineData(0x06, "Transaction Continuation")]
    [InlineData(0x03, "Link Open")]
    [InlineData(0x07, "Link ACK")]
    [InlineData(0x0B, "Link Close")]
    [InlineData(0x0F, "Provisioning Bearer Control, reserved opcode 0x03")]
    public void Names_AreTheStandards(byte firstOctet, string name) => Assert.Equal(name, GenericProvisioning.NameOf(firstOctet));
}
