using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Presses;

/// <summary>Nobody relays, and lamps miss presses. Where all lamps answer, one room needs no relay.</summary>
internal sealed class NoRelayOnPath : IFindingRule
{
    /// <summary>Floods of which no relayed copy was heard, at least (ours).</summary>
    private const int Enough = 20;

    /// <summary>Presses lost, and lamps that lost them: one lamp alone may be without power (ours).</summary>
    private const int EnoughPresses = 3, EnoughLamps = 2;

    public string Id => "no-relay-on-path";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        if (history.Floods.Count < Enough || history.Hops.Relays.Count > 0)
            return;
        for (int row = 0; row < history.Floods.Count; row++)
            if (history.Floods[row].HighestTtl != history.Floods[row].LowestTtl)
                return;
        Silence[] lost = [.. findings.Silences.All.Where(silence => silence.Owed && (silence.NeverHeard || silence.MissChance < Weighing.PossibleBelow)
            && !findings.Explains(silence.Press, silence.View.Node, butThose: true))];
        int[] presses = [.. FindingWords.PressesOf(lost)];
        if (presses.Length < EnoughPresses)
            return;
        NodeState[] states = [.. history.NodeModels?.All.Select(node => node.At(long.MaxValue)) ?? []];
        if (states.Any(state => state.Relay is { IsKnown: true, Value: FeatureState.Enabled }))
            return;         // a relay that does not forward is another finding
        bool allOff = states.Length > 0 && states.All(state => state.Relay is { IsKnown: true, Value: FeatureState.Disabled or FeatureState.NotSupported })
            && history.Directory.Description?.Partial == false;
        string off = allOff ? "the relay state of every node is off" : "no node is known to relay";
        MeshAddress[] missing = [.. lost.Select(silence => silence.Element).Distinct()];
        findings.AddOver(Id, allOff && missing.Length >= EnoughLamps ? Confidence.Likely : Confidence.Possible, history.Presses[presses[0]].TimeNs, null, presses,
            $"Not one relayed copy was heard in {history.Floods.Count} floods, and {off}: {findings.Words.Names(missing)} did not answer {FindingWords.Count(presses.Length, "press", "presses")}.",
            [.. presses.Select(press => new Evidence("press", press))]);
    }
}
