using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Tests.Files;

/// <summary>pcapng against blocks laid out after the PCAP Next Generation draft, section 4.</summary>
public sealed class PcapNgSourceTests
{
    private const ulong Us = 1_700_000_000_123_456;
    private const long Ns = 1_700_000_000_123_456_000;

    [Theory, InlineData(false), InlineData(true)]
    public void ReadsAllPacketBlocks(bool big)
    {
        var b = new PcapNgBytes(big).Section(big).Interface(251, 0);
        long enhanced = b.Length;
        b.Enhanced(0, Us, "AABBCCDDEE", original: 9);
        long simple = b.Length;
        b.Simple(3, "010203");
        long obsolete = b.Length;
        b.Obsolete(0, 0xFFFF, Us + 1, "11");

        ReadCapture capture = ReadCapture.Of(b.ToArray());
        Assert.Null(capture.Damage);
        Assert.Equal(
            [
                new ReadFrame(0, 251, Ns, 9, enhanced, "AABBCCDDEE", HciKind.Unknown, CrcBad: false, IsCut: true),
                new ReadFrame(0, 251, CapturedFrame.NoTime, 3, simple, "010203", HciKind.Unknown, CrcBad: false, IsCut: false),
                new ReadFrame(0, 251, Ns + 1000, 1, obsolete, "11", HciKind.Unknown, CrcBad: false, IsCut: false),
            ],
            capture.Frames);
        Assert.Null(Assert.Single(capture.Receivers).ReportedDropped);
    }

    [Fact]
    public void SimplePacketIsCutToTheSnapLengthOfInterface0()
    {
        var b = new PcapNgBytes(false).Section(false).Interface(251, 4).Interface(251, 2).Simple(7, "01020304");
        ReadFrame frame = Assert.Single(ReadCapture.Of(b.ToArray()).Frames);
        Assert.Equal(("01020304", 7, true), (frame.Octets, frame.OriginalLength, frame.IsCut));
    }

    [Theory, InlineData(false, true), InlineData(true, false), InlineData(true, true)]
    public void SectionsHaveTheirOwnByteOrderAndInterfaces(bool first, bool second)
    {
        var b = new PcapNgBytes(first).Section(first).Interface(251, 0).Interface(256, 0).Enhanced(1, Us, "01");
        b.Section(second, minor: 2).Interface(187, 0).Enhanced(0, Us, "02");

        ReadCapture capture = ReadCapture.Of(b.ToArray());
        Assert.Null(capture.Damage);
        Assert.Equal([(1, 256, "01"), (2, 187, "02")], capture.Frames.Select(f => (f.Receiver, f.LinkType, f.Octets)));
        Assert.Equal([(0, 251), (1, 256), (2, 187)], capture.Receivers.Select(r => (r.Index, r.LinkType.Number)));
    }

    [Fact]
    public void InterfacesAreNamedByTheirNameOrElseTheirDescription()
    {
        var b = new PcapNgBytes(true).Section(true);
        b.Interface(251, 0, b.Option(3, "a receiver on the shelf"), b.Option(2, "reading room é"), b.EndOfOptions);
        b.Interface(251, 0, b.Option(3, "by the stairs"), b.EndOfOptions);
        b.Interface(251, 0, b.Option(2, "zero\0behind"));
        b.Interface(251, 0, b.Option(2, [0xFF, 0x41]));
        b.Interface(251, 0, b.Option(2, new string('x', 5000)));
        b.Interface(251, 0);
        IEnumerable<string?> names = ReadCapture.Of(b.ToArray()).Receivers.Select(r => r.Interface);
        string?[] expected = ["reading room é", "by the stairs", "zero", "\uFFFDA", new string('x', 1024), null];
        Assert.Equal(expected.AsEnumerable(), names);
    }

    // Expected times by hand: s + fraction, for ticks of 10^-n or 2^-n (top bit).
    [Theory]
    [InlineData(0x00, 0, 1_700_000_000UL, 1_700_000_000_000_000_000)]
    [InlineData(0x03, 0, 1_700_000_000_123UL, 1_700_000_000_123_000_000)]
    [InlineData(0x06, 0, Us, Ns)]
    [InlineData(0x09, 0, 1_700_000_000_123_456_789UL, 1_700_000_000_123_456_789)]
    [InlineData(0x0A, 0, 17_000_000_001_234_567_899UL, 1_700_000_000_123_456_789)]      // tenths of a nanosecond are cut off
    [InlineData(0x0C, 1_700_000_000, 123_456_789_999UL, 1_700_000_000_123_456_789)]
    [InlineData(0x1C, 7, 9_999_999_999_999_999_999UL, 7_000_000_000)]                   // 10^-28 s: 64 bits do not reach a nanosecond
    [InlineData(0x7F, 7, ulong.MaxValue, 7_000_000_000)]
    [InlineData(0x80, 0, 1_700_000_000UL, 1_700_000_000_000_000_000)]
    [InlineData(0x8A, 0, (1_700_000_000UL << 10) + 512, 1_700_000_000_500_000_000)]
    [InlineData(0xA0, 0, (1_700_000_000UL << 32) + 0x4000_0000, 1_700_000_000_250_000_000)]
    [InlineData(0xC0, -5, 1UL << 63, -4_500_000_000)]                                   // 2^-64 s
    [InlineData(0xFF, 3, ulong.MaxValue, 3_000_000_000)]
    [InlineData(0x06, -1, 0UL, -1_000_000_000)]
    [InlineData(0x06, 0, 0UL, 0)]
    [InlineData(0x06, 2, 5UL, 2_000_005_000)]
    [InlineData(0x00, 0, 9_223_372_036UL, 9_223_372_036_000_000_000)]
    [InlineData(0x00, 0, 9_223_372_037UL, CapturedFrame.NoTime)]                        // beyond 2262
    [InlineData(0x09, 0, 9_223_372_036_854_775_807UL, long.MaxValue)]
    [InlineData(0x09, 0, ulong.MaxValue, CapturedFrame.NoTime)]
    [InlineData(0x06, long.MinValue, 0UL, CapturedFrame.NoTime)]
    [InlineData(0x06, long.MaxValue, ulong.MaxValue, CapturedFrame.NoTime)]
    public void TimeResolutionsAndOffsets(byte resolution, long offsetSeconds, ulong ticks, long timeNs)
    {
        foreach (bool big in new[] { false, true })
        {
            var b = new PcapNgBytes(big).Section(big);
            b.Interface(251, 0, b.Option(9, [resolution]), b.Option(14, b.U64(unchecked((ulong)offsetSeconds))), b.EndOfOptions);
            b.Enhanced(0, ticks, "00");
            Assert.Equal(timeNs, Assert.Single(ReadCapture.Of(b.ToArray()).Frames).TimeNs);
        }
    }

    [Fact]
    public void UnknownBlocksAndOptionsArePassedOver()
    {
        var b = new PcapNgBytes(false).Section(false);
        b.Block(0x0BAD, b.U32(1), b.U32(2));
        b.Block(4, b.U32(0));                       // name resolution
        b.Interface(251, 0, b.Option(1, "a comment"), b.Option(9, [6, 6]) /* wrong length: not taken */, b.Option(13, [4]), b.EndOfOptions);
        b.Block(0x0000000A, new byte[1_000_000]);   // more than the buffer
        b.Block(0x7FFFFFFF);                        // a body of nothing
        b.Enhanced(0, Us, "AA", null, b.Option(1, "seen from the corridor"), b.Option(0x8001, [1, 2, 3]), b.EndOfOptions);
        ReadCapture capture = ReadCapture.Of(b.ToArray());
        Assert.Null(capture.Damage);
        Assert.Equal(Ns, Assert.Single(capture.Frames).TimeNs);
    }

    [Theory, InlineData(false), InlineData(true)]
    public void CrcErrorsAreMarked(bool big)
    {
        var b = new PcapNgBytes(big).Section(big).Interface(251, 0);
        b.Enhanced(0, Us, "01", null, b.Option(2, b.U32(1u << 24)), b.EndOfOptions);
        b.Enhanced(0, Us, "02", null, b.Option(2, b.U32(0xFEFFFFFF)));      // every bit but that one
        b.Obsolete(0, 0, Us, "03", null, b.Option(2, b.U32(1u << 24)));
        b.Enhanced(0, Us, "04");
        Assert.Equal([true, false, true, false], ReadCapture.Of(b.ToArray()).Frames.Select(f => f.CrcBad));
    }

    [Theory, InlineData(false), InlineData(true)]
    public void LostFramesAreReported(bool big)
    {
        var b = new PcapNgBytes(big).Section(big).Interface(251, 0).Interface(251, 0).Interface(251, 0).Interface(251, 0);
        b.Enhanced(0, Us, "01", null, b.Option(4, b.U64(3)));
        b.Enhanced(0, Us, "02", null, b.Option(4, b.U64(4)));
        b.Obsolete(1, 5, Us, "03");
        b.Obsolete(1, 6, Us, "04");
        b.Statistics(2, b.Option(4, b.U64(100)), b.Option(5, b.U64(9)));
        b.Statistics(0, b.Option(5, b.U64(8)));     // the same losses counted otherwise: the larger number stands
        Assert.Equal([8L, 11L, 9L, null], ReadCapture.Of(b.ToArray()).Receivers.Select(r => r.ReportedDropped));
    }

    [Fact]
    public void CountsOfLostFramesDoNotOverflow()
    {
        var b = new PcapNgBytes(false).Section(false).Interface(251, 0);
        b.Enhanced(0, Us, "01", null, b.Option(4, b.U64(ulong.MaxValue)));
        b.Enhanced(0, Us, "01", null, b.Option(4, b.U64(ulong.MaxValue)));
        Assert.Equal(long.MaxValue, Assert.Single(ReadCapture.Of(b.ToArray()).Receivers).ReportedDropped);
    }

    [Fact]
    public void WriterWritesTheBlocksOfTheDraft()
    {
        foreach (bool big in new[] { false, true })
        {
            var b = new PcapNgBytes(big);
            b.Block(0x0A0D0D0A, b.U32(0x1A2B3C4D), b.U16(1), b.U16(0), Hex.Octets("FFFFFFFFFFFFFFFF"));
            b.Interface(251, 0, b.Option(2, "stairs"), b.Option(9, [9]), b.EndOfOptions);
            b.Interface(256, 4, b.Option(9, [0x8A]), b.Option(14, b.U64(5)), b.EndOfOptions);
            b.Enhanced(0, (ulong)Ns, "AABBCC", 7, b.Option(2, b.U32(1 << 24)), b.Option(4, b.U64(2)), b.EndOfOptions);
            b.Enhanced(1, (1_699_999_995UL << 10) + 512, "AA");
            b.Simple(2, "0102");
            b.Block(5, b.U32(0), b.U32((uint)(Ns >> 32)), b.U32((uint)(Ns & uint.MaxValue)), b.Option(5, b.U64(2)), b.EndOfOptions);

            using var stream = new MemoryStream();
            using (var writer = new PcapNgWriter(stream, big, leaveOpen: true))
            {
                Assert.Equal(0, writer.AddInterface(LinkType.LeLinkLayer, "stairs"));
                Assert.Equal(1, writer.AddInterface(LinkType.LeLinkLayerWithRadioHeader, null, 10, binaryResolution: true, timeOffsetSeconds: 5, snapLength: 4));
                writer.Write(0, Ns, [0xAA, 0xBB, 0xCC], originalLength: 7, crcError: true, dropped: 2);
                writer.Write(1, 1_700_000_000_500_000_000, [0xAA]);
                writer.WriteSimple([1, 2]);
                writer.WriteStatistics(0, Ns, received: null, dropped: 2);
            }

            Assert.Equal(Convert.ToHexString(b.ToArray()), Convert.ToHexString(stream.ToArray()));
        }
    }

    [Fact]
    public void WriterRefusesWhatTheFormatCannotTell()
    {
        using var writer = new PcapNgWriter(new MemoryStream());
        Assert.Throws<ArgumentOutOfRangeException>(() => writer.Write(0, 0, [1]));      // no interface yet
        Assert.Throws<ArgumentOutOfRangeException>(() => writer.AddInterface(LinkType.HciUnframed, null));
        Assert.Throws<ArgumentOutOfRangeException>(() => writer.AddInterface(LinkType.HciH4, null, 128));
        writer.AddInterface(LinkType.HciH4, null, timeOffsetSeconds: 10, snapLength: 2);
        Assert.Throws<ArgumentOutOfRangeException>(() => writer.Write(0, 9_999_999_999, [1]));
        Assert.Throws<ArgumentOutOfRangeException>(() => writer.Write(0, CapturedFrame.NoTime, [1]));
        Assert.Throws<ArgumentException>(() => writer.WriteSimple([1, 2, 3]));
        writer.AddInterface(LinkType.HciH4, null, 12);
        Assert.Throws<ArgumentOutOfRangeException>(() => writer.Write(1, long.MaxValue, [1]));
    }
}
