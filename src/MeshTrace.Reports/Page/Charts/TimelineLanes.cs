using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Page.Charts;

/// <summary>One or more presses at one place of a lane.</summary>
/// <param name="Lane">Index of the lane.</param>
/// <param name="X">0 to <see cref="TimelineLanes.Length"/>.</param>
/// <param name="Worst">Row of the press that fared worst.</param>
/// <param name="Last">Row of the last one.</param>
/// <param name="Count">How many.</param>
internal readonly record struct PressMark(int Lane, double X, int Worst, int Last, int Count);

/// <summary>What goes on the timeline, gathered into places so narrow that more would not be seen: its size does not grow with the capture.</summary>
internal sealed class TimelineLanes
{
    /// <summary>Places along a lane.</summary>
    public const int Length = 620;

    /// <summary>Nodes that have a lane.</summary>
    public const int MostLanes = 40;

    /// <summary>Presses that have a mark each; more are put together where they lie close.</summary>
    public const int MostMarks = 1500;
    private const int MergedPlaces = 6, StopEvery = 1 << 16;

    private readonly Dictionary<ushort, int> _lanes = [];
    private readonly bool[][] _sent, _relayed;

    private TimelineLanes(Account account, (long First, long Last) span)
    {
        CaptureHistory history = account.History;
        FromNs = span.First;
        ToNs = Math.Max(span.Last, span.First + Math.Min(1_000_000, long.MaxValue - Math.Max(span.First, 0)));
        Dictionary<ushort, int> presses = history.Presses.GroupBy(press => history.Directory.NodeOf(press.Src).Value).ToDictionary(group => group.Key, group => group.Count());
        List<NodeRecord> heard = [.. history.Nodes.Where(node => node.FloodsSent + node.FloodsRelayed > 0)];
        Nodes = [.. heard.OrderByDescending(node => presses.ContainsKey(node.Unicast.Value)).ThenByDescending(node => node.FloodsSent + node.FloodsRelayed).Take(MostLanes)
            .Select(node => node.Unicast).Order()];
        NodesLeftOut = heard.Count - Nodes.Count;
        for (int lane = 0; lane < Nodes.Count; lane++)
            _lanes[Nodes[lane].Value] = lane;
        _sent = [.. Nodes.Select(_ => new bool[Length])];
        _relayed = [.. Nodes.Select(_ => new bool[Length])];
    }

    public long FromNs { get; }
    public long ToNs { get; }
    public IReadOnlyList<MeshAddress> Nodes { get; }
    public int NodesLeftOut { get; }
    public IReadOnlyList<PressMark> Marks { get; private set; } = [];
    public bool IsMerged { get; private set; }

    /// <summary>Length of the time shown; a capture may claim times that are centuries apart.</summary>
    public double Seconds => ((double)ToNs - FromNs) / 1e9;

    /// <summary>Width of the places that share a mark.</summary>
    public double MergedMs => Seconds * 1000 * MergedPlaces / Length;

    public static TimelineLanes Of(Account account, (long First, long Last) span, CancellationToken stop)
    {
        var lanes = new TimelineLanes(account, span);
        lanes.TakeFloods(account.History, stop);
        lanes.TakePresses(account.History);
        return lanes;
    }

    public ReadOnlySpan<bool> Sent(int lane) => _sent[lane];

    public ReadOnlySpan<bool> Relayed(int lane) => _relayed[lane];

    /// <summary>Where a time lies, 0 to <see cref="Length"/>.</summary>
    public double PlaceOf(long timeNs) => Math.Clamp(((double)timeNs - FromNs) / ((double)ToNs - FromNs), 0, 1) * Length;

    private void TakeFloods(CaptureHistory history, CancellationToken stop)
    {
        for (int row = 0; row < history.Floods.Count; row++)
        {
            if (row % StopEvery == 0)
                stop.ThrowIfCancellationRequested();
            ref FloodRow flood = ref history.Floods[row];
            MeshAddress node = history.Directory.NodeOf(flood.Src);
            if (_lanes.TryGetValue(node.Value, out int own))
                Set(_sent[own], flood.FirstTimeNs);
            foreach (FloodCopy copy in history.CopiesOf(row))
                if (history.SenderOf(copy) is { } sender && sender != node && _lanes.TryGetValue(sender.Value, out int relay))
                    Set(_relayed[relay], history.Frames[copy.Frame].TimeNs);
        }
    }

    private void Set(bool[] places, long timeNs)
    {
        if (timeNs != CapturedFrame.NoTime)
            places[Math.Min((int)PlaceOf(timeNs), Length - 1)] = true;
    }

    private void TakePresses(CaptureHistory history)
    {
        var marks = new List<PressMark>();
        var merged = new Dictionary<(int Lane, int Place), int>();
        IsMerged = history.Presses.Count > MostMarks;
        for (int row = 0; row < history.Presses.Count; row++)
        {
            Press press = history.Presses[row];
            if (press.TimeNs == CapturedFrame.NoTime || !_lanes.TryGetValue(history.Directory.NodeOf(press.Src).Value, out int lane))
                continue;
            double x = PlaceOf(press.TimeNs);
            if (IsMerged && merged.TryGetValue((lane, (int)x / MergedPlaces), out int at))
            {
                PressMark before = marks[at];
                int worst = PressPart.Rank(press.Outcome) < PressPart.Rank(history.Presses[before.Worst].Outcome) ? row : before.Worst;
                marks[at] = before with { Worst = worst, Last = row, Count = before.Count + 1 };
                continue;
            }
            merged[(lane, (int)x / MergedPlaces)] = marks.Count;
            marks.Add(new PressMark(lane, x, row, row, 1));
        }
        Marks = marks;
    }
}
