using System.Globalization;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Findings.Rules.Sequence;

/// <summary>A node sends with another IV index than its network: it does not take the others' messages, or they do not take its own (Mesh Protocol 1.1 §3.11.5).</summary>
internal sealed class IvIndexApart : IFindingRule
{
    /// <summary>Recovery catches up so many (§3.11.6).</summary>
    private const long MostRecovered = 42;

    public string Id => "iv-index-apart";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        foreach (IvIndexInUse network in IvIndexInUse.Of(history))
            foreach (NodeIvIndex node in network.Nodes)
                if (node.Last != network.IvIndex && Judge(history, network, node) is { } confidence)
                    Tell(history, findings, network, node, confidence);
    }

    private static Confidence? Judge(CaptureHistory history, IvIndexInUse network, NodeIvIndex node)
    {
        long behind = (long)network.IvIndex - node.Last;
        int others = network.NodesWith(network.IvIndex), alike = network.NodesWith(node.Last);
        bool settled = others >= IvIndexInUse.EnoughNodes || (network.Beacon >= 0 && others >= alike);
        if (others + (network.Beacon >= 0 ? 1 : 0) < alike)
            return null;    // then rather the one that sends the beacon is apart
        if (Math.Abs(behind) > 1)
            return settled ? Confidence.Certain : Confidence.Likely;
        // One above is an update that begins, one below is right while an update is in progress, and for those that have not heard of its end yet.
        if (behind < 0 || network.MovedHere || !network.UsedBefore(history, history.Floods[node.Flood].FirstTimeNs))
            return null;
        return settled ? Confidence.Likely : Confidence.Possible;
    }

    private void Tell(CaptureHistory history, FindingSink findings, IvIndexInUse network, NodeIvIndex node, Confidence confidence)
    {
        long behind = (long)network.IvIndex - node.Last;
        ref FloodRow flood = ref history.Floods[node.Flood];
        int others = network.NodesWith(network.IvIndex);
        string who = network.Beacon >= 0 ? "the network's beacons tell" : others == 1 ? "another node uses" : string.Create(CultureInfo.InvariantCulture, $"{others} other nodes use");
        string effect = behind > 0
            ? behind == 1 ? "it drops what they send" : "they drop what it sends, and it drops what they send"
            : "they drop what it sends, and it drops what they send";
        List<Evidence> evidence = [new Evidence("flood", node.Flood)];
        if (network.Beacon >= 0)
            evidence.Add(new Evidence("beacon", network.Beacon));
        evidence.AddRange(network.Nodes.Where(other => other.Last == network.IvIndex).Take(IvIndexInUse.EnoughNodes).Select(other => new Evidence("flood", other.Flood)));
        findings.Add(Id, confidence, flood.FirstTimeNs, node.Node, null,
            string.Create(CultureInfo.InvariantCulture,
                $"{history.Called(node.Node)} sends with IV index {node.Last}, {Math.Abs(behind)} {(behind > 0 ? "behind" : "ahead of")} the {network.IvIndex} that {who}: {effect}."),
            evidence, Remedy(behind));
    }

    private static string? Remedy(long behind) => behind switch
    {
        <= 0 => null,
        <= MostRecovered => string.Create(CultureInfo.InvariantCulture,
            $"Let it hear a secure network beacon (switch beacons on at a node near it): it can catch up the {behind}, but only once in 192 h; if it does not, provision it again."),
        _ => "It is too far behind to catch up (42 at most): provision it again.",
    };
}
