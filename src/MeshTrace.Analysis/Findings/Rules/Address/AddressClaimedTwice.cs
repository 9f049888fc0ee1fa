using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings.Rules.Address;

/// <summary>Two devices use one address: two rising lines of sequence numbers at once, two device UUIDs with one address, or a description that says so.</summary>
internal sealed class AddressClaimedTwice : IFindingRule
{
    /// <summary>Changes from one line of numbers to the other and back; a node that begins anew changes once (ours).</summary>
    private const int EnoughSwaps = 3;

    /// <summary>A copy that a relay held back does not come later than this after newer ones (ours).</summary>
    private const long LatestCopyNs = 2_000_000_000;

    public string Id => "address-claimed-twice";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var told = new HashSet<MeshAddress>();
        var lines = new Dictionary<(ushort Src, uint IvIndex), Lines>();
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.Credentials != Credentials.Flooding || !flood.Src.IsUnicast || flood.FirstTimeNs == CapturedFrame.NoTime)
                continue;
            var key = (flood.Src.Value, flood.IvIndex);
            if (!lines.TryGetValue(key, out Lines? own))
                lines.Add(key, own = new Lines());
            own.Take(flood.Seq, flood.FirstTimeNs, row);
        }
        foreach (((ushort src, _), Lines own) in lines.OrderBy(pair => pair.Key))
        {
            var address = new MeshAddress(src);
            if (own.Swaps >= EnoughSwaps && told.Add(history.Directory.NodeOf(address)))
                findings.Add(Id, Confidence.Likely, history.Floods[own.Floods[0]].FirstTimeNs, history.Directory.NodeOf(address), null,
                    $"Two devices send as {findings.Words.Name(address)}: its sequence numbers change {own.Swaps} times between two rising lines, about {own.High} and about {own.Low}.",
                    [.. own.Floods.Select(row => new Evidence("flood", row))]);
        }
        TakeProvisionings(history, findings, told);
        foreach (MeshAddress address in history.Directory.Description?.ContestedAddresses ?? [])
            if (told.Add(history.Directory.NodeOf(address)))
                findings.Add(Id, Confidence.Possible, history.TimeSpanNs?.First ?? 0, history.Directory.NodeOf(address), null,
                    $"The description gives {address} to {FindingWords.Count(history.Directory.Description!.NodesAt(address).Count, "node")} at once.", []);
    }

    private void TakeProvisionings(CaptureHistory history, FindingSink findings, HashSet<MeshAddress> told)
    {
        var joined = new Dictionary<MeshAddress, int>();
        for (int row = 0; row < history.Provisionings.Count; row++)
        {
            if (history.Provisionings[row] is not { Outcome: ProvisioningOutcome.Complete, Unicast: { } unicast, DeviceUuid: { } uuid } link)
                continue;
            if (joined.TryGetValue(unicast, out int before) && history.Provisionings[before] is { DeviceUuid: { } other } earlier && other != uuid && !WasReset(history, unicast, earlier.EndNs, link.EndNs)
                && told.Add(unicast))
                findings.Add(Id, Confidence.Likely, link.EndNs, unicast, null, $"Two devices were given the address {findings.Words.Name(unicast)}: {other} and then {uuid}.",
                    [new Evidence("provisioning", before), new Evidence("provisioning", row)]);
            joined[unicast] = row;
        }
    }

    private static bool WasReset(CaptureHistory history, MeshAddress node, long fromNs, long toNs) =>
        history.Lifecycle.Any(one => one.Kind == LifecycleKind.NodeReset && one.Node == node && one.TimeNs >= fromNs && one.TimeNs <= toNs);

    /// <summary>The numbers of one source, as one line or two.</summary>
    private sealed class Lines
    {
        private long _highNs;
        private bool _any, _onLow, _hasLow;

        public uint High { get; private set; }
        public uint Low { get; private set; }
        public int Swaps { get; private set; }
        public List<int> Floods { get; } = [];

        public void Take(uint seq, long timeNs, int row)
        {
            if (!_any || seq > High)
            {
                // The low line may have overtaken the high one: then it is one device that began anew.
                if (_hasLow && _onLow && seq - Low <= (_any ? seq - High : 0))
                    (_hasLow, Swaps) = (false, 0);
                else if (_onLow)
                    Swap(row);
                (High, _highNs, _any, _onLow) = (seq, timeNs, true, false);
                return;
            }
            if (seq == High || timeNs - _highNs < LatestCopyNs)
                return;         // a copy that came late
            if (_hasLow && seq <= Low)
            {
                (Low, Swaps, _onLow) = (seq, 0, true);      // the low line begins anew too
                Floods.Clear();
                return;
            }
            if (_hasLow && !_onLow)
                Swap(row);
            (Low, _hasLow, _onLow) = (seq, true, true);
        }

        private void Swap(int row)
        {
            Swaps++;
            if (Floods.Count < FindingSink.MostEvidence)
                Floods.Add(row);
        }
    }
}
