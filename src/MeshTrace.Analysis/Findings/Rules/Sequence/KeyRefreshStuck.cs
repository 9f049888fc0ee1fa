using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings.Rules.Sequence;

/// <summary>A key refresh that does not come to its end: a node still sends with the old key after others went on, or nothing moves (Mesh Protocol 1.1 §3.11.4).</summary>
internal sealed class KeyRefreshStuck : IFindingRule
{
    /// <summary>The switch goes from node to node by beacons, some ten seconds a hop: later than this a node is left behind (ours).</summary>
    private const double LeftBehindSeconds = 60;

    /// <summary>A refresh that stands in the description for so long without any step heard does not go on (ours).</summary>
    private const double StandsStillSeconds = 86_400;

    public string Id => "key-refresh-stuck";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        foreach ((int oldRow, int newRow) in PairsOf(history.Keys))
            if (FirstUse(history, newRow) is { } switched)
                TellLeftBehind(history, findings, oldRow, newRow, switched);
        foreach (DescribedNetKey key in history.Directory.Description?.NetKeys ?? [])
            if (key.Phase != 0)
                TellStandsStill(history, findings, key);
    }

    /// <summary>The old and the new key of each index under refresh.</summary>
    private static IEnumerable<(int Old, int New)> PairsOf(KeyRing keys)
    {
        for (int row = 0; row < keys.Subnets.Count; row++)
        {
            if (keys.Subnets[row] is not { NetKeyIndex: { } index, IsOldKey: false })
                continue;
            for (int other = 0; other < keys.Subnets.Count; other++)
            {
                Subnet old = keys.Subnets[other];
                // Handed out by a Config message while the other was known already: that is the newer one.
                if (other != row && old.NetKeyIndex == index && (old.IsOldKey || (other < row && keys.Subnets[row].Origin == KeyOrigin.ConfigMessage && old.Origin != KeyOrigin.ConfigMessage)))
                    yield return (other, row);
            }
        }
    }

    /// <summary>When the new key was first sent with: a flood, or a beacon.</summary>
    private static (long TimeNs, Evidence Evidence)? FirstUse(CaptureHistory history, int newRow)
    {
        (long TimeNs, Evidence Evidence)? first = null;
        for (int row = 0; row < history.Beacons.Count; row++)
            if (history.Beacons[row] is { Authenticated: true } beacon && beacon.Subnet == newRow)
                Take(beacon.FirstTimeNs, new Evidence("beacon", row));
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.Subnet == newRow && flood.Credentials == Credentials.Flooding)
            {
                Take(flood.FirstTimeNs, new Evidence("flood", row));
                break;
            }
        }
        return first;

        void Take(long timeNs, Evidence evidence)
        {
            if (timeNs != CapturedFrame.NoTime && (first is null || timeNs < first.Value.TimeNs))
                first = (timeNs, evidence);
        }
    }

    private void TellLeftBehind(CaptureHistory history, FindingSink findings, int oldRow, int newRow, (long TimeNs, Evidence Evidence) switched)
    {
        var last = new Dictionary<MeshAddress, (int Flood, bool Old)>();
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if ((flood.Subnet == oldRow || flood.Subnet == newRow) && flood.Credentials == Credentials.Flooding && flood.FirstTimeNs != CapturedFrame.NoTime)
                last[history.Directory.NodeOf(flood.Src)] = (row, flood.Subnet == oldRow);
        }
        bool revoked = history.Beacons.Any(beacon => beacon is { Authenticated: true, KeyRefresh: false } && beacon.Subnet == newRow);
        foreach ((MeshAddress node, (int row, bool old)) in last)
        {
            ref FloodRow flood = ref history.Floods[row];
            double after = Wording.Seconds(switched.TimeNs, flood.FirstTimeNs);
            if (!old || after <= LeftBehindSeconds)
                continue;
            string rest = revoked ? "the others have revoked that key and no longer hear it" : "the refresh cannot be finished before it follows";
            findings.Add(Id, revoked ? Confidence.Certain : Confidence.Likely, flood.FirstTimeNs, node, null,
                $"{history.Called(node)} still sends with the old {NameOf(history.Keys.Subnets[oldRow])}, {Wording.Span(after)} after the new one came into use: {rest}.",
                [new Evidence("flood", row), switched.Evidence]);
        }
    }

    private void TellStandsStill(CaptureHistory history, FindingSink findings, DescribedNetKey key)
    {
        if (key.Timestamp is not { } since || history.TimeSpanNs is not { } span
            || history.Configuration?.Changes.Any(change => change.Kind is ConfigKind.NetKeyUpdated or ConfigKind.KeyRefreshPhase && change.KeyIndex == key.Index) == true)
            return;
        double seconds = Wording.Seconds(0, span.Last) - since.ToUnixTimeSeconds();
        // What was heard is newer than the description: phase 2 over, or the new key not known at all.
        if (seconds <= StandsStillSeconds || history.Beacons.Any(beacon => beacon is { Authenticated: true, KeyRefresh: false } && IsNewKey(history.Keys.Subnets[beacon.Subnet], key)))
            return;
        findings.Add(Id, Confidence.Possible, span.First, null, null,
            $"The key refresh of {(key.Name is { Length: > 0 } name ? SafeText.Strip(name) : $"NetKey {key.Index}")} has stood in phase {key.Phase} for {Wording.Span(seconds)} by the description, and no step of it was heard.",
            []);
    }

    private static bool IsNewKey(Subnet subnet, DescribedNetKey key) => subnet.NetKeyIndex == key.Index && !subnet.IsOldKey;

    private static string NameOf(Subnet subnet) => subnet.Name is { Length: > 0 } name ? $"key of subnet {name}" : $"NetKey {subnet.NetKeyIndex}";
}
