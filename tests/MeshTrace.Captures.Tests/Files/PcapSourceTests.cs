using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Tests.Files;

/// <summary>pcap, field by field against octets written by hand after the PCAP Capture File Format draft, sections 4 and 5.</summary>
public sealed class PcapSourceTests
{
    private const string LittleHeader = "02000400 00000000 00000000 FFFF0000 FB000000";
    private const string BigHeader = "00020004 00000000 00000000 0000FFFF 000000FB";

    // One record: 1700000000 s (0x6553F100), fraction 123456 (0x0001E240), 3 octets of 5.
    private const string LittleRecord = "00F15365 40E20100 03000000 05000000 AABBCC";
    private const string BigRecord = "6553F100 0001E240 00000003 00000005 AABBCC";

    [Theory]
    [InlineData("D4C3B2A1" + LittleHeader + LittleRecord, 1_700_000_000_123_456_000)]
    [InlineData("4D3CB2A1" + LittleHeader + LittleRecord, 1_700_000_000_000_123_456)]
    [InlineData("A1B2C3D4" + BigHeader + BigRecord, 1_700_000_000_123_456_000)]
    [InlineData("A1B23C4D" + BigHeader + BigRecord, 1_700_000_000_000_123_456)]
    public void ReadsBothByteOrdersAndBothFractions(string hex, long timeNs)
    {
        ReadCapture capture = ReadCapture.Of(Hex.Octets(hex));

        ReadFrame frame = Assert.Single(capture.Frames);
        Assert.Equal(new ReadFrame(0, 251, timeNs, 5, 24, "AABBCC", HciKind.Unknown, CrcBad: false, IsCut: true), frame);
        Assert.Null(capture.Damage);
        Assert.Equal(new ReceiverDescription(0, "test", null, LinkType.LeLinkLayer) { TimeResolutionExponent = timeNs % 1000 == 0 ? 6 : 9 }, Assert.Single(capture.Receivers));
    }

    [Fact]
    public void LinkTypeIsMasked()
    {
        // Frame check sequence of 2 x 16 bits, flag that this is told, link type 272.
        ReadCapture capture = ReadCapture.Of(Hex.Octets("D4C3B2A1 02000400 00000000 00000000 FFFF0000 10010024"));
        Assert.Equal(272, Assert.Single(capture.Receivers).LinkType.Number);
        Assert.Empty(capture.Frames);
    }

    [Theory]
    [InlineData("00F15365 00000000 FFFFFFFF FFFFFFFF AABB", "the captured length is longer than a frame can be")]
    [InlineData("00F15365 00000000 01000400 01000400 AABB", "one more than the longest snap length in use")]
    [InlineData("00000000 00000000 00000000 00000000", "a recorder that was stopped leaves zeros")]
    public void WhatIsNoRecord_IsDamageAtItsOffset(string record, string why)
    {
        ReadCapture capture = ReadCapture.Of(Hex.Octets("D4C3B2A1" + LittleHeader + LittleRecord + record));
        Assert.Single(capture.Frames);
        Assert.True(capture.Damage is { Offset: 24 + 19, File: "test" }, why + ": " + capture.Damage);
    }

    [Fact]
    public void LongerFramesAreBelievedIfTheSnapLengthAllowsThem()
    {
        byte[] file = new byte[24 + 16 + 300_000];
        Hex.Octets("D4C3B2A1 02000400 00000000 00000000 00000800 01000000").CopyTo(file, 0);     // snap length 524288
        Hex.Octets("00F15365 00000000 E0930400 E0930400").CopyTo(file, 24);
        ReadCapture capture = ReadCapture.Of(file);
        Assert.Equal(600_000, Assert.Single(capture.Frames).Octets.Length);
        Assert.Null(capture.Damage);
    }

    [Fact]
    public void OriginalLengthBeyondInt_IsTheLargestInt()
    {
        ReadCapture capture = ReadCapture.Of(Hex.Octets("D4C3B2A1" + LittleHeader + "00F15365 00000000 01000000 FFFFFFFF AA"));
        Assert.Equal(int.MaxValue, Assert.Single(capture.Frames).OriginalLength);
    }

    [Fact]
    public void OriginalLengthBelowCaptured_IsTheCapturedLength()
    {
        ReadCapture capture = ReadCapture.Of(Hex.Octets("D4C3B2A1" + LittleHeader + "00F15365 00000000 02000000 00000000 AABB"));
        ReadFrame frame = Assert.Single(capture.Frames);
        Assert.Equal(2, frame.OriginalLength);
        Assert.False(frame.IsCut);
    }

    [Fact]
    public void WriterWritesTheSameOctets()
    {
        Assert.Equal(Hex.Octets("D4C3B2A1" + LittleHeader + LittleRecord), Written(nanoseconds: false, bigEndian: false, 1_700_000_000_123_456_789));
        Assert.Equal(Hex.Octets("4D3CB2A1" + LittleHeader + LittleRecord), Written(nanoseconds: true, bigEndian: false, 1_700_000_000_000_123_456));
        Assert.Equal(Hex.Octets("A1B2C3D4" + BigHeader + BigRecord), Written(nanoseconds: false, bigEndian: true, 1_700_000_000_123_456_789));
        Assert.Equal(Hex.Octets("A1B23C4D" + BigHeader + BigRecord), Written(nanoseconds: true, bigEndian: true, 1_700_000_000_000_123_456));
    }

    [Fact]
    public void WriterRefusesWhatTheFormatCannotTell()
    {
        using var writer = new PcapWriter(new MemoryStream(), LinkType.LeLinkLayer);
        Assert.Throws<ArgumentOutOfRangeException>(() => writer.Write(CapturedFrame.NoTime, [1]));
        Assert.Throws<ArgumentOutOfRangeException>(() => writer.Write(4_294_967_296_000_000_000, [1]));
        Assert.Throws<ArgumentOutOfRangeException>(() => writer.Write(0, [1, 2], originalLength: 1));
        Assert.Throws<ArgumentOutOfRangeException>(() => new PcapWriter(new MemoryStream(), LinkType.HciUnframed));
    }

    private static byte[] Written(bool nanoseconds, bool bigEndian, long timeNs)
    {
        using var stream = new MemoryStream();
        using (var writer = new PcapWriter(stream, LinkType.LeLinkLayer, nanoseconds, bigEndian, snapLength: 0xFFFF, leaveOpen: true))
            writer.Write(timeNs, [0xAA, 0xBB, 0xCC], originalLength: 5);
        return stream.ToArray();
    }
}
