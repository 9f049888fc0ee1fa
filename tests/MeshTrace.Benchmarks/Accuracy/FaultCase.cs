using System.Text.Json.Nodes;
using MeshTrace.Analysis.Completeness;

namespace MeshTrace.Benchmarks.Accuracy;

/// <summary>How one finding is tried: the fault that it tells of, whom it should name, and whether the capture has the evidence.</summary>
/// <param name="Id">The finding.</param>
/// <param name="Needs">What the network must have.</param>
/// <param name="Faults">The faults in a network.</param>
/// <param name="Names">Nodes of which the finding may name one; null for a finding about no node.</param>
/// <param name="Evidence">By the truth: did the receiver hear what the finding rests on?</param>
/// <param name="EvidenceIs">The same in words, for the document.</param>
internal sealed record FaultCase(string Id, Needs Needs, Func<DrawnNetwork, JsonObject[]> Faults, Func<DrawnNetwork, IEnumerable<DrawnNode>>? Names,
    Func<Composition, bool> Evidence, string EvidenceIs)
{
    /// <summary>Above this chance that all was missed, nothing may be said (the bound of the findings' catalogue).</summary>
    public const double MostChance = 0.3;

    /// <summary>Silence of a node says something: what it should have sent would have been heard, by the share of its PDUs that was.</summary>
    /// <param name="composed">The capture and its truth.</param>
    /// <param name="node">Should have sent something.</param>
    /// <param name="pdus">So many Network PDUs at least.</param>
    public static bool SilenceTells(Composition composed, DrawnNode node, int pdus)
    {
        var (heard, sent) = composed.Truth.CountOf(node);
        return heard >= 3 && pdus > 0 && Math.Pow(1 - ShareInterval.Of(heard, sent).Low, pdus) < MostChance;
    }
}
