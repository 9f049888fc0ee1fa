using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings.Rules.Sequence;

/// <summary>
/// The sequence numbers of one element at one IV index, in the order in which one receiver first heard them: clocks of receivers may differ, the order at
/// one of them does not. Only floods whose first hearing is at their highest TTL count: a late copy from a relay is no step back of the source.
/// </summary>
internal sealed class SequenceLine
{
    /// <summary>A number so far below the highest is a step back; less is mixed order on the way (ours).</summary>
    public const uint MixedOrder = 32;

    /// <summary>A forward step above this, with no time for so many PDUs, is a jump (ours).</summary>
    public const uint LeastJump = 100;

    /// <summary>No node sends so many PDUs a second for long: the standard allows fewer than 100 in 10 s (Mesh Protocol 1.1 §3.7.4).</summary>
    public const double MostPdusPerSecond = 50;

    private SequenceLine(MeshAddress src, uint ivIndex, int first) => (Src, IvIndex, First) = (src, ivIndex, first);

    public MeshAddress Src { get; }
    public uint IvIndex { get; }

    /// <summary>Rows of its first and last flood.</summary>
    public int First { get; }
    public int Last { get; private set; }

    /// <summary>Rows of its floods; listed where a number lies clearly below one heard before, or above <see cref="SequenceRunningOut.High"/>.</summary>
    public List<int> Floods { get; } = [];

    /// <summary>Rows of two floods between which more numbers were skipped than the node can have used; without meaning where it steps back.</summary>
    public List<(int Before, int After)> Jumps { get; } = [];

    /// <summary>True if a number lies clearly below one heard before.</summary>
    public bool StepsBack { get; private set; }

    private uint Highest { get; set; }

    /// <summary>The flood before, save for mixed order.</summary>
    private (int Row, uint Seq, long TimeNs) Before { get; set; } = (-1, 0, 0);

    /// <summary>All lines of a capture, in the order in which they begin.</summary>
    public static IReadOnlyList<SequenceLine> Of(CaptureHistory history)
    {
        var lines = new List<SequenceLine>();
        var rows = new Dictionary<Numbering, SequenceLine>();
        bool several = history.ReceiverViews.Count > 1;     // with one receiver there is no need to look at the frames
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (KeyOf(history, row, several) is not { } key)
                continue;
            if (!rows.TryGetValue(key, out SequenceLine? line))
            {
                rows.Add(key, line = new SequenceLine(flood.Src, flood.IvIndex, row));
                lines.Add(line);
            }
            line.Take(row, in flood);
        }
        if (lines.Exists(line => line.IsListed))
            for (int row = 0; row < history.Floods.Count; row++)
                if (KeyOf(history, row, several) is { } key && rows[key] is { IsListed: true } listed)
                    listed.Floods.Add(row);
        return lines;
    }

    /// <summary>The line of a flood; null where its first copy tells nothing. A Friend hands messages on later, with their old numbers, under friendship credentials.</summary>
    private static Numbering? KeyOf(CaptureHistory history, int row, bool several)
    {
        ref FloodRow flood = ref history.Floods[row];
        return flood.Credentials == Credentials.Flooding && flood.Src.IsUnicast && history.CopiesOf(row) is [var first, ..] && first.Ttl == flood.HighestTtl
            ? new Numbering(flood.Src.Value, several ? history.Frames[first.Frame].ReceiverField : (ushort)0, flood.IvIndex) : null;
    }

    private bool IsListed => StepsBack || Highest > SequenceRunningOut.High;

    private void Take(int row, in FloodRow flood)
    {
        StepsBack |= flood.Seq + MixedOrder < Highest;
        Highest = Math.Max(Highest, flood.Seq);
        Last = row;
        if (Before.Row >= 0 && flood.Seq < Before.Seq)
            return;     // mixed order
        if (Before.Row >= 0 && !StepsBack && IsJump(Before.Seq, Before.TimeNs, in flood))
            Jumps.Add((Before.Row, row));
        Before = (row, flood.Seq, flood.FirstTimeNs);
    }

    /// <summary>More numbers were skipped than the node can have sent PDUs.</summary>
    /// <param name="seq">Of the flood before.</param>
    /// <param name="timeNs">When it was first heard.</param>
    /// <param name="after">The next one.</param>
    public static bool IsJump(uint seq, long timeNs, in FloodRow after)
    {
        if (timeNs == CapturedFrame.NoTime || after.FirstTimeNs == CapturedFrame.NoTime || after.FirstTimeNs < timeNs)
            return false;
        uint step = after.Seq - seq;
        return step > LeastJump && step > MostPdusPerSecond * Wording.Seconds(timeNs, after.FirstTimeNs);
    }

    private readonly record struct Numbering(ushort Src, ushort Receiver, uint IvIndex);
}
