using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Presses;

/// <summary>
/// A node whose relay state is on receives messages and sends none of them on. That it receives is known by its answers, or by neighbours that take up
/// its own messages and send others' on; that its copies would be heard, by its own ones.
/// </summary>
internal sealed class RelayNotForwarding : IFindingRule
{
    /// <summary>Floods that it must have had and could have relayed (ours).</summary>
    private const int EnoughFloods = 20;

    /// <summary>TTL with which a flood comes to a node of unknown distance with 2 or more, as a rule (ours): relays between may not have been heard.</summary>
    private const int EnoughTtl = 4;

    /// <summary>Presses that it answered, at least, before its share of received ones is believed (ours).</summary>
    private const int EnoughAnswers = 5;

    /// <summary>Of the floods looked at, so many may have relayed copies of nobody knows whom: they might be its own (ours).</summary>
    private const double MostUnnamed = 0.1;
    private const int Looked = 200;

    /// <summary>So many of its messages a neighbour took up; of what that one sends at least half comes to it (ours). Floods looked at, at most.</summary>
    private const int EnoughLinks = 3, Sample = 4_000;
    private const double HalfComes = 0.5;

    public string Id => "relay-not-forwarding";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        if (history.NodeModels is null || history.Repeats is null)
            return;
        NodeState[] relays = [.. history.NodeModels.All.Select(node => node.At(long.MaxValue)).Where(state => state.Relay is { IsKnown: true, Value: FeatureState.Enabled })];
        NodeState[] idle = [.. relays.Where(state => history.Hops.RelayOf(state.Unicast) is null)];
        if (idle.Length == 0)
            return;
        var bySource = new Dictionary<MeshAddress, List<int>>();
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.Credentials != Credentials.Flooding || flood.LowestTtl < 2)
                continue;       // it may have come to it with TTL 1
            MeshAddress src = history.Directory.NodeOf(flood.Src);
            if (!bySource.TryGetValue(src, out List<int>? rows))
                bySource.Add(src, rows = []);
            rows.Add(row);
        }
        foreach (NodeState state in idle)
            Judge(history, findings, state, bySource, relays.Length);
    }

    private void Judge(CaptureHistory history, FindingSink findings, NodeState state, Dictionary<MeshAddress, List<int>> bySource, int looked)
    {
        MeshAddress node = state.Unicast;
        int asked = 0, answered = 0;
        var sources = new HashSet<MeshAddress>();
        foreach (Press press in history.Presses)
        {
            if (press.Expected is not { } expected || expected.FirstOrDefault(element => history.Directory.NodeOf(element) == node) is not { IsUnicast: true } element)
                continue;
            bool acted = press.Answers.Exists(answer => answer.Element == element);
            asked += acted || history.OwesAnAnswer(press, element) ? press.Messages.Count : 0;      // each of them may have been the one that came
            answered += acted ? 1 : 0;
            if (acted)
                sources.Add(history.Directory.NodeOf(press.Src));
        }
        if (answered < EnoughAnswers)
        {
            JudgeByNeighbours(history, findings, state, looked);
            return;
        }
        sources.Remove(node);
        var floods = new List<int>();
        foreach (MeshAddress source in sources)
        {
            int enough = history.HopDistances.Estimate(source, node)?.Hops + 1 ?? EnoughTtl;
            floods.AddRange((bySource.GetValueOrDefault(source) ?? []).Where(row => history.Floods[row].HighestTtl >= enough && history.Directory.NodeOf(history.Floods[row].Dst) != node));
        }
        double received = floods.Count * ShareInterval.Of(answered, Math.Max(asked, answered)).Low;
        if (received < EnoughFloods || Unnamed(history, floods) > MostUnnamed)
            return;
        Tell(history, findings, state, floods, received, looked, $"it answered {FindingWords.Count(answered, "press", "presses")}");
    }

    /// <summary>Neighbours that relay its own messages hear it, and links mostly hold both ways: what they send with TTL 2 or more comes to it.</summary>
    private void JudgeByNeighbours(CaptureHistory history, FindingSink findings, NodeState state, int looked)
    {
        HashSet<MeshAddress> neighbours = [.. history.Hops.Links.Where(link => link.From == state.Unicast && link.Floods >= EnoughLinks).Select(link => link.Relay)];
        if (neighbours.Count == 0)
            return;
        var floods = new List<int>();
        foreach (int row in FloodSample.Of(history, Sample))
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.LowestTtl < 2 || history.Directory.NodeOf(flood.Dst) == state.Unicast || history.Directory.NodeOf(flood.Src) == state.Unicast)
                continue;
            foreach (FloodCopy copy in history.CopiesOf(row))
                if (history.SenderOf(copy) is { } sender && neighbours.Contains(sender))
                {
                    floods.Add(row);
                    break;
                }
        }
        if (floods.Count * HalfComes >= EnoughFloods && Unnamed(history, floods) <= MostUnnamed)
            Tell(history, findings, state, floods, floods.Count * HalfComes, looked, $"its neighbours {findings.Words.Names(neighbours)} sent twice as many, and take up its own");
    }

    private void Tell(CaptureHistory history, FindingSink findings, NodeState state, List<int> floods, double received, int looked, string how)
    {
        MeshAddress node = state.Unicast;
        double heard = history.HeardShares?.EventIntervalOf(node)?.Low ?? 0;
        // What one flood brings of it may be lost together, where all relays send at once; and one of so many relays would look so by chance.
        double chance = Math.Min(1, Math.Pow(1 - heard, received) * looked);
        if (findings.Weighing.Judge(Id, node, chance) is not { } confidence)
            return;
        string origin = state.Relay.From == KnownFrom.Description ? "by the description" : "by the Config messages heard";
        findings.Add(Id, confidence, history.Floods[floods[0]].FirstTimeNs, node, null,
            $"{findings.Words.Name(node)} should relay {origin} and received some {FindingWords.Number(received)} floods that it could have sent on ({how}), but not one relayed copy of it was heard; its own PDUs are heard ({Wording.Percent(heard)} at least of what it transmits).",
            [.. floods.Take(FindingSink.MostEvidence).Select(row => new Evidence("flood", row))]);
    }

    /// <summary>Share of floods with a relayed copy whose sender is not known.</summary>
    private static double Unnamed(CaptureHistory history, List<int> floods)
    {
        int step = Math.Max(1, floods.Count / Looked), looked = 0, unnamed = 0;
        for (int at = 0; at < floods.Count; at += step, looked++)
            foreach (FloodCopy copy in history.CopiesOf(floods[at]))
                if (copy.Ttl < history.Floods[floods[at]].HighestTtl && history.SenderOf(copy) is null)
                {
                    unnamed++;
                    break;
                }
        return looked == 0 ? 0 : unnamed / (double)looked;
    }
}
