using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;

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

    private SequenceLine(MeshAddress src, uint ivIndex) => (Src, IvIndex) = (src, ivIndex);

    public MeshAddress Src { get; }
    public uint IvIndex { get; }

    /// <summary>Rows of its floods.</summary>
    public List<int> Floods { get; } = [];

    /// <summary>True if a number lies clearly below one heard before.</summary>
    public bool StepsBack { get; private set; }

    private uint Highest { get; set; }

    /// <summary>All lines of a capture, in the order in which they begin.</summary>
    public static IReadOnlyList<SequenceLine> Of(CaptureHistory history)
    {
        var lines = new List<SequenceLine>();
        var rows = new Dictionary<(ushort Src, uint IvIndex, int Receiver), SequenceLine>();
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            // A Friend hands messages on later, with their old numbers, under friendship credentials.
            if (flood.Credentials != Credentials.Flooding || !flood.Src.IsUnicast || history.CopiesOf(row) is not [var first, ..] || first.Ttl != flood.HighestTtl)
                continue;
            var key = (flood.Src.Value, flood.IvIndex, history.Frames[first.Frame].Receiver);
            if (!rows.TryGetValue(key, out SequenceLine? line))
            {
                rows.Add(key, line = new SequenceLine(flood.Src, flood.IvIndex));
                lines.Add(line);
            }
            line.StepsBack |= flood.Seq + MixedOrder < line.Highest;
            line.Highest = Math.Max(line.Highest, flood.Seq);
            line.Floods.Add(row);
        }
        return lines;
    }
}
