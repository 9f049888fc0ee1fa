using System.Runtime.InteropServices;
using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Repeats;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Presses;

/// <summary>
/// A relay that sends on quickly when it has nothing else to do and very late now and then: its queue fills. A delay begins with the last copy one hop before
/// that was heard in time, so that it comes out rather too short; a relay behind a slow one looks late where the slow one's copy was missed, so only
/// those count that are about as often late as the latest of all.
/// </summary>
internal sealed class NodeFallsBehind : IFindingRule
{
    /// <summary>One relayed PDU in twenty is later than this (ours).</summary>
    private const double LateMs = 200, Late = 0.95;

    /// <summary>The late ones are so many times later than the quickest tenth: a relay that always waits long is set so (ours).</summary>
    private const double Times = 3, Quick = 0.1;

    /// <summary>Delays from which on one in twenty tells something (ours).</summary>
    private const int Enough = 60;

    /// <summary>Late at least so often as the latest relay, or it may stand behind that one only (ours).</summary>
    private const double OfTheLatest = 0.5;

    /// <summary>Floods and copies looked at, at most.</summary>
    private const int Sample = 20_000, MostCopies = 1_000_000;

    /// <summary>The shortest mesh packet lasts longer: a relay cannot be faster (arithmetic over the Core Specification's packet layout).</summary>
    private const long ShortestDelayNs = 250_000;

    public string Id => "node-falls-behind";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        if (history.Hops.Relays.Count == 0)
            return;
        var relays = new List<(MeshAddress Node, double[] Sorted, double UsualMost, double Share)>();
        foreach ((ushort address, List<double> delays) in DelaysMs(history))
        {
            if (delays.Count < Enough)
                continue;
            var node = new MeshAddress(address);
            double most = LateMs + SlackMs(history.Repeats, node);
            double[] sorted = [.. delays.Order()];
            relays.Add((node, sorted, most, delays.Count(delay => delay > most) / (double)delays.Count));
        }
        double latest = relays.Count == 0 ? 0 : relays.Max(relay => relay.Share);
        foreach ((MeshAddress node, double[] sorted, double most, double share) in relays.OrderBy(relay => relay.Node))
        {
            double late = At(sorted, Late), quick = At(sorted, Quick);
            if (late <= most || late <= Times * quick || share < OfTheLatest * latest)
                continue;
            findings.Add(Id, Confidence.Possible, history.TimeSpanNs?.First ?? 0, node, null,
                $"{findings.Words.Name(node)} relays after {FindingWords.Number(At(sorted, 0.5))} ms as a rule and after {FindingWords.Number(quick)} ms when it is quick, but one PDU in twenty comes {FindingWords.Number(late)} ms late or more ({sorted.Length} delays; {FindingWords.Number(most)} ms are usual at most).",
                NodeRow(history, node));
        }
    }

    /// <summary>Each named relay's delays: from the last copy with one TTL more, by anybody else, to the first one of its own, at the same receiver.</summary>
    private static Dictionary<ushort, List<double>> DelaysMs(CaptureHistory history)
    {
        var delays = new Dictionary<ushort, List<double>>();
        var heard = new List<(int Receiver, byte Ttl, long TimeNs, ushort Sender)>();
        var own = new Dictionary<(int Receiver, ushort Sender), (long TimeNs, byte Ttl)>();
        int copies = 0;
        foreach (int row in FloodSample.Of(history, Sample))
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.HighestTtl == flood.LowestTtl || copies > MostCopies)
                continue;
            copies += flood.Copies;
            ushort src = history.Directory.NodeOf(flood.Src).Value;
            heard.Clear();
            own.Clear();
            foreach (FloodCopy copy in history.CopiesOf(row))
            {
                if (copy.Bearer != Bearer.Advertising)
                    continue;
                ref FrameRow frame = ref history.Frames[copy.Frame];
                ushort sender = history.SenderOf(copy)?.Value ?? 0;
                heard.Add((frame.Receiver, copy.Ttl, frame.TimeNs, sender));
                if (sender == 0 || sender == src)
                    continue;
                ref (long TimeNs, byte Ttl) first = ref CollectionsMarshal.GetValueRefOrAddDefault(own, (frame.Receiver, sender), out bool known);
                if (!known || frame.TimeNs < first.TimeNs)
                    first = (frame.TimeNs, copy.Ttl);
            }
            foreach (((int receiver, ushort sender), (long timeNs, byte ttl)) in own)
            {
                long before = long.MinValue;
                foreach (var copy in heard)
                    if (copy.Receiver == receiver && copy.Ttl == ttl + 1 && copy.Sender != sender && copy.TimeNs <= timeNs - ShortestDelayNs)
                        before = Math.Max(before, copy.TimeNs);
                if (before == long.MinValue)
                    continue;
                if (!delays.TryGetValue(sender, out List<double>? list))
                    delays.Add(sender, list = []);
                list.Add((timeNs - before) / 1e6);
            }
        }
        return delays;
    }

    private static double At(double[] sorted, double share) => sorted[Math.Min(sorted.Length - 1, (int)(share * sorted.Length))];

    /// <summary>Where its first transmissions were missed, a delay comes out longer by their intervals.</summary>
    private static double SlackMs(NodeRepeats? repeats, MeshAddress relay)
    {
        if (repeats?.RelayRetransmitOf(relay) is not { } heard)
            return 0;
        return Math.Max(0, heard.Transmissions - 1) * ((heard.IntervalMs ?? 0) + 10.0);
    }

    private static Evidence[] NodeRow(CaptureHistory history, MeshAddress node)
    {
        for (int row = 0; row < history.Nodes.Count; row++)
            if (history.Nodes[row].Unicast == node)
                return [new Evidence("node", row)];
        return [];
    }
}
