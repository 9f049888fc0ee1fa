using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Reports.Words;

/// <summary>The capture at a glance: what it is, how good it is, and the fate of the presses in one sentence.</summary>
internal static class GlanceSection
{
    private const int FilesNamed = 4;
    private const double NoticeableCrcBad = 0.05, NearlyNothing = 0.02;

    public static void Write(Paper paper, Account account)
    {
        CaptureHistory history = account.History;
        paper.Heading("The capture at a glance");
        paper.Paragraph(Subject(history));
        if (history.Frames.Count == 0)
        {
            paper.Paragraph("It holds no frame at all.");
            WriteDamage(paper, history);
            return;
        }
        FrameCounts frames = history.FrameCounts;
        paper.Paragraph(Radio(frames));
        if (frames.CrcChecked > 0 && (double)frames.CrcBad / frames.CrcChecked >= NoticeableCrcBad)
            paper.Paragraph($"{Phrases.Percent((double)frames.CrcBad / frames.CrcChecked)} of the frames arrived damaged (wrong CRC): the receiver is far away or the air is crowded.", Note, markTone: Tone.Mixed);
        if (MissingChannels(frames) is { } missing)
            paper.Paragraph(missing, Note, markTone: Tone.Mixed);
        if (frames.Unsupported > 0)
            paper.Paragraph($"{Phrases.Count(frames.Unsupported, "frame is", "frames are")} of a link type that cannot be read.", Note, markTone: Tone.Mixed);
        WriteDamage(paper, history);
        if (history.DistinctNetworkPdus > 0 && history.OpenedNetworkPdus == 0)
            paper.Paragraph(Verdict.NothingOpened(history), Note, Tone.Strong, Tone.Bad);
        else
            paper.Paragraph(Mesh(frames, history));
        if (history.Presses.Count > 0)
        {
            paper.Paragraph(Presses(history.Presses), tone: Tone.Strong);
            if (history.Presses.Count(press => press.Expected is null) is > 0 and var open)
                paper.Paragraph($"Of {Phrases.Count(open, "press", "presses")} nobody knows who should act: the network's exported description tells (--network FILE).", Note, markTone: Tone.Mixed);
        }
        else if (history.OpenedNetworkPdus > 0)
            paper.Paragraph("No press was heard: no message in it asks a lamp or another server to change.", tone: Tone.Strong);
    }

    private const string Note = "  ! ";

    private static string Subject(CaptureHistory history)
    {
        List<string> files = history.Receivers.Select(receiver => receiver.File).Distinct().Select(Name).ToList();
        string what = files.Count == 0 ? "The capture" : Phrases.List(files, FilesNamed);
        if (history.Receivers.Count > files.Count)
            what += $" ({Phrases.Count(history.Receivers.Count, "receiver")})";
        if (history.TimeSpanNs is not { } span)
            return what + ": no times in it.";
        string firstDay = Phrases.Day(span.First) ?? "", lastDay = Phrases.Day(span.Last) ?? "";
        string until = firstDay == lastDay ? Phrases.Clock(span.Last) : $"{lastDay} {Phrases.Clock(span.Last)}";
        return $"{what}: {firstDay} {Phrases.Clock(span.First)} to {until} UTC ({Phrases.Duration((double)((Int128)span.Last - span.First) / 1e6)}).";
    }

    private static string Name(string file) => file == "-" ? "standard input" : SafeText.Strip(Path.GetFileName(file), 200) is { Length: > 0 } name ? name : "a file";

    private static string Radio(FrameCounts frames)
    {
        string count = Phrases.Count(frames.Frames, "frame");
        var channels = new List<string>();
        for (int channel = 37; channel <= 39; channel++)
        {
            if (frames.OnChannel(channel) > 0)
                channels.Add($"{channel} ({Phrases.Percent((double)frames.OnChannel(channel) / frames.WithChannel)})");
        }
        string where = frames.WithChannel == 0 ? "; the file does not tell their channels" : channels.Count == 0 ? " on data channels" : " on channels " + Phrases.List(channels);
        string crc = frames.CrcChecked == 0 ? "the file does not tell whether they arrived whole (no CRC)" : $"{Phrases.Percent((double)frames.CrcBad / frames.CrcChecked)} with a wrong CRC";
        return $"{count}{where}; {crc}; {Phrases.Percent((double)frames.Mesh / frames.Frames)} carry mesh traffic.";
    }

    private static string? MissingChannels(FrameCounts frames)
    {
        const int EnoughFrames = 200;
        if (frames.Mesh < EnoughFrames || frames.WithChannel == 0)
            return null;
        List<string> silent = [];
        for (int channel = 37; channel <= 39; channel++)
        {
            if (frames.OnChannel(channel) < NearlyNothing * frames.WithChannel)
                silent.Add(channel.ToString(System.Globalization.CultureInfo.InvariantCulture));
        }
        return silent.Count is 0 or 3 ? null
            : $"Hardly anything on channel {Phrases.List(silent)}: the receiver listens to only part of the air, so much will be 'not heard' that was sent.";
    }

    private static string Mesh(FrameCounts frames, CaptureHistory history)
    {
        if (frames.Mesh == 0)
            return "No Bluetooth mesh traffic is in it: was the receiver set to listen to all advertising, near the network?";
        if (history.DistinctNetworkPdus == 0)
            return "It holds no Network PDU, only beacons, provisioning or proxy traffic.";
        return $"{Phrases.Count(history.DistinctNetworkPdus, "different Network PDU")}, of which the keys opened {OpenedWord(history)}.";
    }

    private static string OpenedWord(CaptureHistory history) =>
        history.OpenedNetworkPdus == history.DistinctNetworkPdus ? "all" : Phrases.Number(history.OpenedNetworkPdus);

    /// <summary>The fate of the presses in one sentence.</summary>
    internal static string Presses(IReadOnlyList<Press> presses)
    {
        int Of(PressOutcome outcome) => presses.Count(press => press.Outcome == outcome);
        var parts = new List<string>();
        if (Of(PressOutcome.All) is > 0 and var all)
            parts.Add(all == presses.Count ? "all of them answered by everyone asked" : $"{Phrases.Number(all)} answered by everyone asked");
        if (Of(PressOutcome.Some) is > 0 and var some)
            parts.Add($"{Phrases.Number(some)} by only some");
        if (Of(PressOutcome.None) is > 0 and var none)
            parts.Add($"{Phrases.Number(none)} answered by NOBODY");
        if (Of(PressOutcome.Unknown) is > 0 and var unknown)
            parts.Add($"{Phrases.Number(unknown)} cannot be told");
        return $"{Phrases.Count(presses.Count, "press", "presses")}: {Phrases.List(parts)}.";
    }

    private static void WriteDamage(Paper paper, CaptureHistory history)
    {
        foreach (CaptureDamage damage in history.Damages)
            paper.Paragraph($"{Name(damage.File)} is damaged at octet {Phrases.Number(damage.Offset)}: {SafeText.Strip(damage.Says, 300)}. What stands before it is analysed here.", Note, markTone: Tone.Bad);
    }
}
