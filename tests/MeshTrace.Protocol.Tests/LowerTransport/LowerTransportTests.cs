using CsCheck;
using MeshTrace.Protocol.LowerTransport;
using Lower = MeshTrace.Protocol.LowerTransport.LowerTransport;

namespace MeshTrace.Protocol.Tests.LowerTransport;

public class LowerTransportTests
{
    // Mesh Protocol 1.1 §8.3.7 (Message #7): a Friend acknowledges segment 1 on behalf of its Low Power node. The second row is the first of
    // them with the RFU bits set, which are ignored on receipt.
    [Theory]
    [InlineData("00a6ac00000002", true, 0x09ab, 0x00000002u, true)]
    [InlineData("00a6af00000002", true, 0x09ab, 0x00000002u, false)]
    [InlineData("007ffcffffffff", false, 0x1fff, 0xffffffffu, true)]
    public void SegmentAcknowledgment_ReadsAndWritesBack(string hex, bool obo, int seqZero, uint blockAck, bool exact)
    {
        byte[] pdu = Convert.FromHexString(hex);
        Assert.True(SegmentAcknowledgment.TryRead(pdu, out SegmentAcknowledgment message, out DecodeProblem problem), problem.ToString());
        Assert.Equal((obo, seqZero, blockAck), (message.Obo, message.SeqZero, message.BlockAck));
        byte[] written = Buffer();
        Assert.Equal(exact, written[..SegmentAcknowledgment.Write(written, obo, (ushort)seqZero, blockAck)].AsSpan().SequenceEqual(pdu));
    }

    [Fact]
    public void SegmentedControl_IgnoresRfu()
    {
        byte[] plain = Convert.FromHexString("91040021c004c005"), withRfu = Convert.FromHexString("91840021c004c005");   // 'sup-segmented-control'
        Assert.True(SegmentedControl.TryRead(plain, out SegmentedControl first, out _));
        Assert.True(SegmentedControl.TryRead(withRfu, out SegmentedControl second, out _));
        Assert.Equal((first.Opcode, first.SeqZero, first.SegO, first.SegN), (second.Opcode, second.SeqZero, second.SegO, second.SegN));
        Assert.Equal((0x11, 0x0100, 1, 1), (first.Opcode, first.SeqZero, first.SegO, first.SegN));
    }

    public enum Format
    {
        UnsegmentedAccess,
        SegmentedAccess,
        UnsegmentedControl,
        SegmentedControl,
        SegmentAcknowledgment,
    }

    // Lengths and fixed fields: Mesh Protocol 1.1 §3.5.2.
    [Theory]
    [InlineData(Format.UnsegmentedAccess, "", "nothing at all", ProblemKind.TooShort, 0)]
    [InlineData(Format.UnsegmentedAccess, "0000000000", "no octet of payload beside the TransMIC", ProblemKind.TooShort, 5)]
    [InlineData(Format.UnsegmentedAccess, "0000000000000000000000000000000000", "17 octets", ProblemKind.TooLong, 16)]
    [InlineData(Format.UnsegmentedAccess, "800000000000", "SEG set", ProblemKind.WrongValue, 0)]
    [InlineData(Format.SegmentedAccess, "", "nothing at all", ProblemKind.TooShort, 0)]
    [InlineData(Format.SegmentedAccess, "80000000", "no octet of segment", ProblemKind.TooShort, 4)]
    [InlineData(Format.SegmentedAccess, "8000000000000000000000000000000000", "segment of 13 octets", ProblemKind.TooLong, 16)]
    [InlineData(Format.SegmentedAccess, "00000000000000000000000000000000", "SEG clear", ProblemKind.WrongValue, 0)]
    [InlineData(Format.SegmentedAccess, "80000021000000000000000000000000", "SegO 1 of SegN 1 is the last", ProblemKind.None, 0)]
    [InlineData(Format.SegmentedAccess, "80000041000000000000000000000000", "SegO 2 above SegN 1", ProblemKind.WrongValue, 2)]
    [InlineData(Format.SegmentedAccess, "800000010000000000000000000000", "a segment of 11 octets that is not the last", ProblemKind.TooShort, 15)]
    [InlineData(Format.UnsegmentedControl, "", "nothing at all", ProblemKind.TooShort, 0)]
    [InlineData(Format.UnsegmentedControl, "01000000000000000000000000", "12 octets of parameters", ProblemKind.TooLong, 12)]
    [InlineData(Format.UnsegmentedControl, "0a", "no parameters, which the format allows", ProblemKind.None, 0)]
    [InlineData(Format.UnsegmentedControl, "00a6ac00000002", "the acknowledgment", ProblemKind.WrongValue, 0)]
    [InlineData(Format.UnsegmentedControl, "8a00", "SEG set", ProblemKind.WrongValue, 0)]
    [InlineData(Format.SegmentedControl, "91000000", "no octet of segment", ProblemKind.TooShort, 4)]
    [InlineData(Format.SegmentedControl, "91000000000000000000000000", "segment of 9 octets", ProblemKind.TooLong, 12)]
    [InlineData(Format.SegmentedControl, "9100000100000000000000", "a segment of 7 octets that is not the last", ProblemKind.TooShort, 11)]
    [InlineData(Format.SegmentedControl, "800000000000000000000000", "opcode 0x00 is never segmented", ProblemKind.WrongValue, 0)]
    [InlineData(Format.SegmentAcknowledgment, "", "nothing at all", ProblemKind.TooShort, 0)]
    [InlineData(Format.SegmentAcknowledgment, "00a6ac000000", "one octet short", ProblemKind.TooShort, 6)]
    [InlineData(Format.SegmentAcknowledgment, "00a6ac0000000200", "one octet over", ProblemKind.TooLong, 7)]
    [InlineData(Format.SegmentAcknowledgment, "01a6ac00000002", "another opcode", ProblemKind.WrongValue, 0)]
    public void BadBytes_AreNamedNotThrown(Format format, string hex, string why, ProblemKind kind, int offset)
    {
        Assert.NotEmpty(why);
        byte[] pdu = Convert.FromHexString(hex);
        bool read = TryRead(format, pdu, out DecodeProblem problem);
        Assert.Equal((kind == ProblemKind.None, kind, offset), (read, problem.Kind, problem.Offset));
        Assert.Equal(kind == ProblemKind.None ? Layer.None : Layer.LowerTransport, problem.Layer);
    }

    [Fact]
    public void RandomOctets_AreReadOrNamed_AndWhatIsReadIsWrittenBack() => Gen.Select(Gen.Byte.Array[0, 24], Gen.Bool).Sample((pdu, ctl) =>
    {
        foreach (Format format in Enum.GetValues<Format>())
            Assert.NotEqual(TryRead(format, pdu, out DecodeProblem problem), problem.IsProblem);
        byte[] written = Buffer();
        int length = Rewrite(Lower.KindOf(ctl, pdu), pdu, written);
        if (length > 0)
            Assert.Equal(pdu, written[..length]);
    }, iter: 20_000);

    // Mesh Protocol 1.1 §3.5.3.1: the low 13 bits of SEQ replaced by SeqZero, less 8192 if that is above SEQ. Values by hand;
    // the first is that of §8.3.6, the third crosses a multiple of 8192.
    [Theory]
    [InlineData(0x3129AC, 0x09AB, 0x3129AB)]
    [InlineData(0x3129AB, 0x09AB, 0x3129AB)]
    [InlineData(0x006000, 0x1FFF, 0x005FFF)]
    [InlineData(0x647262, 0x1849, 0x645849)]
    [InlineData(0xFFFFFF, 0x0000, 0xFFE000)]
    public void SeqAuth_IsTheSeqOfTheFirstSegment(uint seq, int seqZero, uint seqAuth) => Assert.Equal(seqAuth, Lower.SeqAuth(seq, (ushort)seqZero));

    [Fact]
    public void SeqAuth_NeverThrows_AndIsWithin8191BelowSeq() => Gen.Select(Gen.UInt[0, 0xFFFFFF], Gen.UShort[0, 0x1FFF]).Sample((seq, seqZero) =>
    {
        uint seqAuth = Lower.SeqAuth(seq, seqZero);
        Assert.Equal(seqZero, seqAuth & 0x1FFF);
        if (seq >= 8192 || seqZero <= seq)
            Assert.True(seqAuth <= seq && seq - seqAuth < 8192);
        else
            Assert.True(seqAuth > seq);   // no such message can be: it would have begun before SEQ 0
    });

    [Fact]
    public void KindOf_NothingIsNone() =>
        Assert.Equal((LowerTransportKind.None, LowerTransportKind.None), (Lower.KindOf(true, []), Lower.KindOf(false, [])));

    private static bool TryRead(Format format, byte[] pdu, out DecodeProblem problem) => format switch
    {
        Format.UnsegmentedAccess => UnsegmentedAccess.TryRead(pdu, out _, out problem),
        Format.SegmentedAccess => SegmentedAccess.TryRead(pdu, out _, out problem),
        Format.UnsegmentedControl => UnsegmentedControl.TryRead(pdu, out _, out problem),
        Format.SegmentedControl => SegmentedControl.TryRead(pdu, out _, out problem),
        _ => SegmentAcknowledgment.TryRead(pdu, out _, out problem),
    };

    /// <summary>Reads and writes with the RFU bits of the input cleared; 0 where it cannot be read.</summary>
    private static int Rewrite(LowerTransportKind kind, byte[] pdu, byte[] written)
    {
        switch (kind)
        {
            case LowerTransportKind.UnsegmentedAccess when UnsegmentedAccess.TryRead(pdu, out UnsegmentedAccess m, out _):
                return UnsegmentedAccess.Write(written, m.Akf, m.Aid, m.UpperTransportPdu);
            case LowerTransportKind.SegmentedAccess when SegmentedAccess.TryRead(pdu, out SegmentedAccess m, out _):
                return SegmentedAccess.Write(written, m.Akf, m.Aid, m.SzMic, m.SeqZero, m.SegO, m.SegN, m.Segment);
            case LowerTransportKind.UnsegmentedControl when UnsegmentedControl.TryRead(pdu, out UnsegmentedControl m, out _):
                return UnsegmentedControl.Write(written, m.Opcode, m.Parameters);
            case LowerTransportKind.SegmentedControl when SegmentedControl.TryRead(pdu, out SegmentedControl m, out _):
                pdu[1] &= 0x7F;
                return SegmentedControl.Write(written, m.Opcode, m.SeqZero, m.SegO, m.SegN, m.Segment);
            case LowerTransportKind.SegmentAcknowledgment when SegmentAcknowledgment.TryRead(pdu, out SegmentAcknowledgment m, out _):
                pdu[2] &= 0xFC;
                return SegmentAcknowledgment.Write(written, m.Obo, m.SeqZero, m.BlockAck);
            default:
                return 0;
        }
    }

    private static byte[] Buffer() => [.. Enumerable.Repeat((byte)0xA5, 32)];
}
