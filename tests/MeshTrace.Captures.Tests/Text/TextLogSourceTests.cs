using System.Text;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Tests.Text;

/// <summary>Log lines as people paste them: what time, direction, words and octets are found in them. The lines are made up; common practice, no source.</summary>
public sealed class TextLogSourceTests
{
    private const string Invite = "030005aabb";

    [Theory]
    // Octets in every usual spelling.
    [InlineData("x 03 00 05 aa bb", Invite), InlineData("x 03:00:05:AA:BB", Invite), InlineData("x 03-00-05-aa-bb", Invite), InlineData("x 0x030005aabb", Invite)]
    [InlineData("x 030005AABB", Invite), InlineData("x [0x03, 0x00, 0x05, 0xAA, 0xBB]", Invite), InlineData("x (0x) 03-00-05-AA-BB", Invite), InlineData("data=030005aabb;", Invite)]
    [InlineData("x len 5 03 00 05 aa bb", Invite), InlineData("handle 0x0012 value 03 00 05 aa bb", Invite), InlineData("x \"030005aabb\" (5 bytes)", Invite)]
    // In groups of two or four octets, the last one shorter.
    [InlineData("data <030005aa bb>", Invite), InlineData("x 0300 05aa bb", Invite), InlineData("x 030005aa bb112233 c4", "030005aabb112233c4"), InlineData("1234 5678 rx 030005aabb", Invite)]
    // Device addresses, UUIDs, numbers, dates and words are none.
    [InlineData("pid 1234 5678 waits", ""), InlineData("dead beef", "")]
    [InlineData("to C3:B7:0A:4E:11:01", ""), InlineData("00002add-0000-1000-8000-00805f9b34fb ready", ""), InlineData("took 12345678 ms", ""), InlineData("a feed of decade faces", "")]
    [InlineData("C3:B7:0A:4E:11:01 <- 03 00 05 aa bb", Invite), InlineData("on 00002adc-0000-1000-8000-00805f9b34fb: 030005aabb", Invite), InlineData("", null)]
    public void Octets_AreFoundInEverySpelling(string line, string? octets) =>
        Assert.Equal(octets is null ? [] : [octets], Frames(line + "\n01020304a5").SkipLast(1).Select(frame => frame.Octets));

    [Theory]
    [InlineData("2026-03-02T18:00:00.123456Z x", "2026-03-02T18:00:00.123456"), InlineData("2026-03-02 18:00:00,5 x", "2026-03-02T18:00:00.5"), InlineData("[2026/03/02 18:00:00] x", "2026-03-02T18:00:00")]
    [InlineData("2026-03-02T18:00:00+01:00 x", "2026-03-02T17:00:00"), InlineData("2026-03-02T18:00:00-0330 x", "2026-03-02T21:30:00")]
    [InlineData("18:00:00.250 x", "1970-01-01T18:00:00.25"), InlineData("03-02 18:00:00.250 1234 x", "1970-01-01T18:00:00.25"), InlineData("(18:00:00) x", "1970-01-01T18:00:00")]
    [InlineData("[   12.345678] x", "1970-01-01T00:00:12.345678"), InlineData("12.5s x", "1970-01-01T00:00:12.5"), InlineData("12345 ms x", "1970-01-01T00:00:12.345"), InlineData("[00012345] x", "1970-01-01T00:00:12.345")]
    [InlineData("I (345) tag: x", "1970-01-01T00:00:00.345"), InlineData("W (12345) x", "1970-01-01T00:00:12.345"), InlineData("I (a) x", null), InlineData("[00:00:12.345,678] <dbg> x", "1970-01-01T00:00:12.345678")]
    [InlineData("7 x", null), InlineData("x", null), InlineData("25:00:00 x", null), InlineData("12:34:56:78:9A:BC x", null), InlineData("2026-13-02 18:00:00 x", "1970-01-01T18:00:00")]
    public void Times_AreFoundInEveryForm(string line, string? time)
    {
        long expected = time is null ? CapturedFrame.NoTime : (DateTime.Parse(time, System.Globalization.CultureInfo.InvariantCulture) - DateTime.UnixEpoch).Ticks * 100;
        Assert.Equal(expected, Frames(line + " 01020304a5")[0].TimeNs);
    }

    [Fact]
    public void Clocks_GoOnPastMidnight() =>
        Assert.Equal([86_399, 86_401, 86_400, 172_801], Frames("23:59:59 01020304a5\n00:00:01 01020304a5\n00:00:00 01020304a5\n12:00:00 01\n23:00:00 01\n00:00:01 01").Where((_, i) => i is < 3 or 5).Select(frame => frame.TimeNs / 1_000_000_000));

    [Theory]
    [InlineData("TX", LineDirection.Sent), InlineData("Sending", LineDirection.Sent), InlineData("->", LineDirection.Sent), InlineData(">>", LineDirection.Sent), InlineData("\u2192", LineDirection.Sent)]
    [InlineData("RX", LineDirection.Received), InlineData("received", LineDirection.Received), InlineData("<-", LineDirection.Received), InlineData("\u2190", LineDirection.Received)]
    [InlineData("write", LineDirection.Written), InlineData("Notification", LineDirection.Notified), InlineData("received notification", LineDirection.Notified), InlineData("sent write", LineDirection.Written)]
    [InlineData("text", LineDirection.Unknown), InlineData("prefix", LineDirection.Unknown)]
    public void Directions_AreToldByWordsAndArrows(string words, LineDirection direction) => Assert.Equal(direction, Frames(words + " 01020304a5")[0].Direction);

    [Theory]
    [InlineData("Proxy PDU", LineWords.Proxy), InlineData("network pdu", LineWords.Network), InlineData("Provisioning", LineWords.Provisioning), InlineData("beacon", LineWords.Beacon)]
    [InlineData("Access payload", LineWords.Access), InlineData("Upper transport", LineWords.UpperTransport), InlineData("NetKey", LineWords.Key), InlineData("Provisioning Public Key", LineWords.Provisioning)]
    public void Kinds_AreToldByWords(string words, LineWords kind) => Assert.Equal(kind, Frames(words + " 01020304a5")[0].Words);

    [Fact]
    public void Lines_AreNumberedAndBlankOnesPassedOver()
    {
        List<Line> lines = Frames("a 01020304a5\r\n\r\n  \nb\nc 0a02");
        Assert.Equal([1, 4, 5], lines.Select(line => line.Number));
        Assert.Equal(["01020304a5", "", "0a02"], lines.Select(line => line.Octets));
        Assert.Equal([0, 19, 21], lines.Select(line => (int)line.Offset));
    }

    /// <summary>A line of megabytes, with and without an end, and binary octets: read to the end, and what is too long is cut.</summary>
    [Theory, InlineData(false), InlineData(true)]
    public void HostileLines_DoNoHarm(bool ends)
    {
        string monster = string.Concat(Enumerable.Repeat("5a ", 1_000_000));
        List<Line> lines = Frames("a 01020304a5\n" + monster + (ends ? "\nb 0102030405\n" : ""));
        Assert.Equal(ends ? 3 : 2, lines.Count);
        Assert.Equal(1024, lines[1].Octets.Length / 2);
        var random = new Random(5);
        byte[] binary = new byte[1_000_000];
        random.NextBytes(binary);
        using IFrameSource source = CaptureFile.Open(new MemoryStream([.. "a 01020304a5 some words to begin with, so that it is text for more octets than are looked at first\n"u8, .. Enumerable.Repeat((byte)'x', 600), .. binary]), "log");
        int frames = 0;
        while (source.TryReadNext(out CapturedFrame frame))
            frames += frame.Octets.Length >= LogLine.HeaderLength ? 1 : 0;
        Assert.True(frames > 1000);
    }

    [Theory, InlineData("{ \"netKey\": \"0102030405060708090a0b0c0d0e0f10\" }"), InlineData("<a>01020304a5</a>"), InlineData("a text without octets\n"), InlineData("time,node,words\n18:00:00,0x0003,no light\n")]
    public void OtherTexts_AreRefusedAsBefore(string text)
    {
        CaptureFormatException refused = Assert.Throws<CaptureFormatException>(() => CaptureFile.Open(new MemoryStream(Encoding.UTF8.GetBytes(text)), "text"));
        Assert.Equal(CaptureFault.Text, refused.Fault);
    }

    private sealed record Line(long TimeNs, long Offset, int Number, LineDirection Direction, LineWords Words, string Octets);

    private static List<Line> Frames(string text)
    {
        using IFrameSource source = CaptureFile.Open(new MemoryStream(Encoding.UTF8.GetBytes(text)), "log");
        var lines = new List<Line>();
        while (source.TryReadNext(out CapturedFrame frame))
        {
            Assert.True(LogLine.TryRead(frame.Octets, out LogLine line, out _));
            lines.Add(new Line(frame.TimeNs, frame.FileOffset, line.Line, line.Direction, line.Words, Convert.ToHexStringLower(line.Octets)));
        }
        return lines;
    }
}
