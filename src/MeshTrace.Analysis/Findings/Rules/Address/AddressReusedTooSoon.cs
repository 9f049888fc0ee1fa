using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Address;

/// <summary>A device was given an address that a removed one had, while the other nodes still remember the sequence numbers of that one.</summary>
internal sealed class AddressReusedTooSoon : IFindingRule
{
    /// <summary>An address may be given again when the IV index has gone up by two (Mesh Configuration Database Profile 1.0.1, networkExclusions).</summary>
    private const uint StepsToWait = 2;

    public string Id => "address-reused-too-soon";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        for (int row = 0; row < history.Provisionings.Count; row++)
        {
            if (history.Provisionings[row] is not { Outcome: ProvisioningOutcome.Complete, Unicast: { } unicast } link)
                continue;
            uint? index = history.Keys.Subnets.FirstOrDefault(subnet => subnet.NetKeyIndex == link.NetKeyIndex)?.IvIndex;
            MeshAddress[] given = [.. Enumerable.Range(0, link.Elements ?? 1).Select(element => new MeshAddress((ushort)(unicast.Value + element)))];
            if (index is { } now && Excluded(history, given, now) is { } excluded)
            {
                findings.Add(Id, Confidence.Likely, link.EndNs, unicast, null,
                    $"{findings.Words.Name(unicast)} was given to a new device at IV index {now}, but the description excludes {excluded.Address} since IV index {excluded.IvIndex}: the other nodes still take its messages for replays.",
                    [new Evidence("provisioning", row)], $"Give the device a fresh address, or wait for IV index {excluded.IvIndex + StepsToWait}.");
                continue;
            }
            LifecycleEvent? reset = history.Lifecycle.LastOrDefault(one => one.Kind == LifecycleKind.NodeReset && one.Node == unicast && one.TimeNs < link.FirstTimeNs);
            LifecycleEvent? moved = reset is null ? null : history.Lifecycle.FirstOrDefault(one => one.Kind is LifecycleKind.IvIndexChanged or LifecycleKind.IvUpdateFinished && one.TimeNs > reset.TimeNs && one.TimeNs < link.FirstTimeNs);
            if (reset is not null && moved is null)
                findings.Add(Id, Confidence.Likely, link.EndNs, unicast, null,
                    $"{findings.Words.Name(unicast)} was reset and its address given to a device again at the same IV index: the other nodes take its messages for replays until its numbers pass the old ones.",
                    [new Evidence(reset.Record, reset.Row), new Evidence("provisioning", row)]);
        }
        TakeDescribed(history, findings);
    }

    private void TakeDescribed(CaptureHistory history, FindingSink findings)
    {
        if (history.Directory.Description is not { Exclusions.Count: > 0 } description || history.Keys.Subnets.Max(subnet => subnet.IvIndex) is not { } now)
            return;
        foreach (DescribedNode node in description.Nodes)
        {
            MeshAddress[] own = [.. Enumerable.Range(0, node.ElementCount ?? 1).Select(element => new MeshAddress((ushort)(node.Unicast.Value + element)))];
            if (node.Excluded || Excluded(history, own, now) is not { } excluded || findings.Findings.Any(finding => finding.Id == Id && finding.Node == node.Unicast))
                continue;
            findings.Add(Id, Confidence.Possible, history.TimeSpanNs?.First ?? 0, node.Unicast, null,
                $"By the description {findings.Words.Name(node.Unicast)} uses {excluded.Address}, which it excludes since IV index {excluded.IvIndex}; the network is at {now} only.", [],
                $"Give the device a fresh address, or wait for IV index {excluded.IvIndex + StepsToWait}.");
        }
    }

    private static (MeshAddress Address, uint IvIndex)? Excluded(CaptureHistory history, MeshAddress[] given, uint now)
    {
        foreach (DescribedExclusion exclusion in history.Directory.Description?.Exclusions ?? [])
            if (now < (ulong)exclusion.IvIndex + StepsToWait)
                foreach (MeshAddress address in exclusion.Addresses)
                    if (given.Contains(address))
                        return (address, exclusion.IvIndex);
        return null;
    }
}
