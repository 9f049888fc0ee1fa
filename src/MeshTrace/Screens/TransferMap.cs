using System.Numerics;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Reports.Words;

namespace MeshTrace.Screens;

/// <summary>A transfer as a map: a line a segment, time across, the acknowledgments on a line between, and what they say below.</summary>
internal static class TransferMap
{
    private const int Label = 9, MostAcks = 200;

    public static void Draw(Lines lines, Account account, Transfer transfer)
    {
        int canvas = lines.Columns - Label - 11;
        var window = new TimeWindow(transfer.FirstTimeNs, Math.Max(transfer.LastTimeNs, transfer.FirstTimeNs + TimeWindow.ShortestNs));
        lines.Say($"{account.Names.Full(transfer.Src)} to {account.Names.Full(transfer.Dst)}{TransferSection.What(account, transfer)}: {TransferSection.Fate(transfer)}.", $"{TransferSection.MarkOf(transfer.Outcome),-5}",
            markTone: TransferSection.ToneOf(transfer.Outcome));
        lines.Say(Stall(account, transfer), "  - ");
        string right = Moment.After(window.FromNs, window.ToNs);
        lines.Add(new Cell(DisplayWidth.Fit("", Label)), new Cell(DisplayWidth.Fit("0", Math.Max(1, canvas - right.Length)) + right, Tone.Quiet));
        for (int segment = 0; segment < transfer.Segments; segment++)
            DrawSegment(lines, transfer, window, canvas, segment);
        DrawAcks(lines, transfer, window, canvas);
        foreach (BlockAcknowledgment ack in transfer.Acks.Take(MostAcks))
        {
            uint missing = ~ack.Block & transfer.AllSegments;
            string says = ack.Block == 0 ? "refuses the message" : missing == 0 ? "has all segments" : $"has {Phrases.Runs(ack.Block)}, asks for {Phrases.Runs(missing)}";
            lines.Add(new Cell($"  {Moment.After(transfer.FirstTimeNs, ack.TimeNs),12}  ", Tone.Quiet), new Cell($"{account.Names.Short(ack.From)}{(ack.OnBehalf ? ", as Friend," : "")} {says}"));
        }
    }

    private static void DrawSegment(Lines lines, Transfer transfer, TimeWindow window, int canvas, int segment)
    {
        char[] marks = Blank(canvas);
        int times = 0;
        foreach (SegmentSent sent in transfer.Sent)
        {
            if (sent.SegO != segment || window.ColumnOf(sent.TimeNs, canvas) is not (>= 0 and var column))
                continue;
            marks[column] = times++ == 0 ? 'o' : 'r';
        }
        bool heard = (transfer.Heard >> segment & 1) != 0;
        lines.Add(new Cell($"seg {segment,2}   "), new Cell(new string(marks), heard ? Tone.Plain : Tone.Bad), new Cell(heard ? times > 1 ? $" {times} times" : "" : " NOT HEARD", heard ? Tone.Quiet : Tone.Bad));
    }

    private static void DrawAcks(Lines lines, Transfer transfer, TimeWindow window, int canvas)
    {
        char[] marks = Blank(canvas);
        foreach (BlockAcknowledgment ack in transfer.Acks)
            if (window.ColumnOf(ack.TimeNs, canvas) is >= 0 and var column)
                marks[column] = ack.Block == 0 ? 'X' : (~ack.Block & transfer.AllSegments) == 0 ? 'A' : 'a';
        lines.Add(new Cell("acks     ", Tone.Strong), new Cell(new string(marks), Tone.Strong), new Cell(transfer.Acks.Count == 0 ? " none" : "", Tone.Quiet));
    }

    /// <summary>Which side stopped, as far as the air tells.</summary>
    private static string Stall(Account account, Transfer transfer)
    {
        string src = account.Names.Short(transfer.Src), dst = account.Names.Short(transfer.Dst);
        if (transfer.Outcome == TransferOutcome.Acknowledged)
            return "Nothing stalled: every segment was acknowledged.";
        if (transfer.Outcome == TransferOutcome.Cancelled)
            return $"{dst} refused it: it was busy, or gave up.";
        if (!transfer.Dst.IsUnicast)
            return BitOperations.PopCount(transfer.Heard) == transfer.Segments ? "A group does not acknowledge; all segments were heard here." : "A group does not acknowledge; the segments missing here may have been heard elsewhere.";
        if (transfer.Acks.Count == 0)
            return $"No acknowledgment of {dst} was heard: it did not get the segments, did not answer, or its answer was not heard here.";
        uint asked = ~transfer.Acks[^1].Block & transfer.AllSegments;
        long lastAck = transfer.Acks[^1].TimeNs;
        uint after = transfer.Sent.Where(sent => !sent.GivenOn && sent.TimeNs > lastAck).Aggregate(0u, (bits, sent) => bits | 1u << sent.SegO);
        return (asked & ~after) != 0 ? $"{dst} still asked for {Phrases.Runs(asked)}, and {src} was not heard to send {Phrases.Runs(asked & ~after)} again."
            : $"{src} sent again what {dst} asked for, and no further acknowledgment was heard.";
    }

    private static char[] Blank(int columns)
    {
        var marks = new char[Math.Max(1, columns)];
        Array.Fill(marks, '·');
        return marks;
    }
}
