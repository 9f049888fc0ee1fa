using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Tests.Files;

/// <summary>BTSnoop against octets written by hand after its commonly described layout (file header 16, record header 24, all
/// big-endian).</summary>
public sealed class BtSnoopSourceTests
{
    private const string Start = "6274736E6F6F7000 00000001 ";
    private const string Unframed = Start + "000003E9", H4 = Start + "000003EA", Monitor = Start + "000007D1";

    // 0x00DCDDB30F2F8000 is 1970-01-01; added to it 1700000000.123456 s, which are 0x00060A2418202240 microseconds.
    private const string Time = "00E2E7D7274FA240";
    private const long Ns = 1_700_000_000_123_456_000;

    [Fact]
    public void ReadsHciWithIndicator()
    {
        ReadCapture capture = ReadCapture.Of(Hex.Octets(H4 + "00000007 00000003 00000003 00000002" + Time + "043E0C"));
        Assert.Equal(new ReadFrame(0, 187, Ns, 7, 16, "043E0C", HciKind.Unknown, CrcBad: false, IsCut: true), Assert.Single(capture.Frames));
        Assert.Equal(2, Assert.Single(capture.Receivers).ReportedDropped);
        Assert.Null(capture.Damage);
    }

    [Theory]
    [InlineData("00000000", HciKind.AclSent)]
    [InlineData("00000001", HciKind.AclReceived)]
    [InlineData("00000002", HciKind.Command)]
    [InlineData("00000003", HciKind.Event)]
    public void FlagsTellTheKindOfUnframedHci(string flags, HciKind kind)
    {
        ReadCapture capture = ReadCapture.Of(Hex.Octets(Unframed + "00000001 00000001" + flags + "00000000" + Time + "3E"));
        ReadFrame frame = Assert.Single(capture.Frames);
        Assert.Equal((kind, LinkType.HciUnframed.Number), (frame.Hci, frame.LinkType));
        Assert.Null(Assert.Single(capture.Receivers).ReportedDropped);
    }

    // Opcodes of the host monitor as in link type 254.
    [Theory]
    [InlineData("0002", HciKind.Command)]
    [InlineData("0003", HciKind.Event)]
    [InlineData("0004", HciKind.AclSent)]
    [InlineData("0005", HciKind.AclReceived)]
    [InlineData("0000", HciKind.Other)]
    [InlineData("000C", HciKind.Other)]
    public void OpcodeTellsTheKindOfMonitorPackets(string opcode, HciKind kind)
    {
        ReadCapture capture = ReadCapture.Of(Hex.Octets(Monitor + "00000001 00000001 0000" + opcode + "00000000" + Time + "3E"));
        Assert.Equal(kind, Assert.Single(capture.Frames).Hci);
    }

    [Fact]
    public void EachAdapterOfTheMonitorIsAReceiver()
    {
        string hex = Monitor;
        foreach (string adapter in new[] { "0001", "0000", "FFFF", "0001" })
            hex += "00000001 00000001" + adapter + "0003 00000000" + Time + "3E";
        ReadCapture capture = ReadCapture.Of(Hex.Octets(hex));
        Assert.Equal([0, 1, 2, 0], capture.Frames.Select(f => f.Receiver));
        Assert.Equal(["adapter 1", "adapter 0", null], capture.Receivers.Select(r => r.Interface));
        Assert.All(capture.Receivers, r => Assert.Equal(LinkType.HostMonitorUnframed, r.LinkType));
    }

    [Theory]
    [InlineData("00DCDDB30F2F8000", 0)]
    [InlineData("00DCDDB30F2F7FFF", -1000)]
    [InlineData("00E03AB44A676000", 946_684_800_000_000_000)]      // 2000-01-01
    [InlineData("7FFFFFFFFFFFFFFF", CapturedFrame.NoTime)]
    [InlineData("8000000000000000", CapturedFrame.NoTime)]
    public void TimesCountFromTheFormatsEpoch(string time, long timeNs)
    {
        ReadCapture capture = ReadCapture.Of(Hex.Octets(H4 + "00000001 00000001 00000000 00000000" + time + "04"));
        Assert.Equal(timeNs, Assert.Single(capture.Frames).TimeNs);
    }

    [Theory]
    [InlineData("FFFFFFFF FFFFFFFF 00000000 00000000 00E2E7D7274FA240 AA", "a length of 4 GiB")]
    [InlineData("00040001 00040001 00000000 00000000 00E2E7D7274FA240 AA", "one more than the longest frame")]
    [InlineData("00000000 00000000 00000000 00000000 0000000000000000", "zeros")]
    public void WhatIsNoRecord_IsDamageAtItsOffset(string record, string why)
    {
        ReadCapture capture = ReadCapture.Of(Hex.Octets(H4 + "00000001 00000001 00000000 00000000" + Time + "04" + record));
        Assert.Single(capture.Frames);
        Assert.True(capture.Damage is { Offset: 16 + 25 }, why + ": " + capture.Damage);
    }

    [Theory, InlineData(1003), InlineData(1004), InlineData(2002), InlineData(-1)]
    public void OtherDatalinksAreRefusedByNumber(int datalink)
    {
        string number = unchecked((uint)datalink).ToString(System.Globalization.CultureInfo.InvariantCulture);
        var refusal = Assert.Throws<CaptureFormatException>(() => ReadCapture.Of(Hex.Octets(Start + datalink.ToString("X8", null))));
        Assert.Equal((CaptureFault.UnsupportedDatalink, 12L), (refusal.Fault, refusal.Offset));
        Assert.Contains(number, refusal.Message, StringComparison.Ordinal);
        Assert.Contains("1001", refusal.Message, StringComparison.Ordinal);
        Assert.Contains("1002", refusal.Message, StringComparison.Ordinal);
        Assert.Contains("2001", refusal.Message, StringComparison.Ordinal);
    }

    [Fact]
    public void WriterWritesTheSameOctets()
    {
        using var stream = new MemoryStream();
        using (var writer = new BtSnoopWriter(stream, 1002, leaveOpen: true))
            writer.Write(Ns + 999, 3, [0x04, 0x3E, 0x0C], originalLength: 7, cumulativeDrops: 2);
        Assert.Equal(Hex.Octets(H4 + "00000007 00000003 00000003 00000002" + Time + "043E0C"), stream.ToArray());
    }

    [Fact]
    public void WriterCutsTimesBefore1970TowardsThePast()
    {
        using var stream = new MemoryStream();
        using (var writer = new BtSnoopWriter(stream, 1002, leaveOpen: true))
            writer.Write(-1, 0, [4]);
        Assert.Equal(-1000, Assert.Single(ReadCapture.Of(stream.ToArray()).Frames).TimeNs);
    }
}
