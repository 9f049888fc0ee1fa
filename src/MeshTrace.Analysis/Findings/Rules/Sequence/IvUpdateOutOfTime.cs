using System.Globalization;
using MeshTrace.Analysis.Beacons;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings.Rules.Sequence;

/// <summary>An IV update that takes longer than 144 h, or ends before 96 h are over (Mesh Protocol 1.1 §3.11.5).</summary>
internal sealed class IvUpdateOutOfTime : IFindingRule
{
    private const double LeastSeconds = 96 * 3600, MostSeconds = 144 * 3600;

    public string Id => "iv-update-out-of-time";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        for (int row = 0; row < history.Beacons.Count; row++)
        {
            BeaconRecord beacon = history.Beacons[row];
            if (beacon is not { Authenticated: true, IvUpdate: true, IvIndex: > 0 } || beacon.FirstTimeNs == CapturedFrame.NoTime || !IsFirstOfItsKind(history, row))
                continue;
            (long first, long last) = SpanOf(history, beacon);
            if (Wording.Seconds(first, last) > MostSeconds)
                findings.Add(Id, Confidence.Certain, last, StarterOf(history, beacon), null,
                    string.Create(CultureInfo.InvariantCulture,
                        $"The IV update to index {beacon.IvIndex} is still in progress {Wording.Seconds(first, last) / 3600:0} h after it was first heard: 144 h are the most."),
                    [new Evidence("beacon", row)]);
            else
                LookForAnEarlyEnd(history, findings, row, beacon, first);
        }
    }

    /// <summary>The update began after the last beacon of the index before; nobody may send with the new index, or announce it as in use, within 96 h.</summary>
    private void LookForAnEarlyEnd(CaptureHistory history, FindingSink findings, int row, BeaconRecord beacon, long announced)
    {
        uint coming = beacon.IvIndex!.Value;
        int normal = -1, end = -1;
        for (int other = 0; other < history.Beacons.Count; other++)
        {
            BeaconRecord one = history.Beacons[other];
            if (one is not { Authenticated: true, IvUpdate: false } || !IsSameNetwork(history, one, beacon) || one.FirstTimeNs == CapturedFrame.NoTime)
                continue;
            if (one.IvIndex == coming - 1 && one.FirstTimeNs < announced && (normal < 0 || one.LastTimeNs > history.Beacons[normal].LastTimeNs))
                normal = other;
            if (one.IvIndex == coming && one.FirstTimeNs > announced && (end < 0 || one.FirstTimeNs < history.Beacons[end].FirstTimeNs))
                end = other;
        }
        if (normal < 0)
            return;     // it may have begun days before the capture
        long begun = Math.Min(history.Beacons[normal].LastTimeNs, announced);
        int early = EarlyFlood(history, beacon, coming, begun);
        long endNs = end >= 0 ? history.Beacons[end].FirstTimeNs : long.MaxValue;
        if (early >= 0 && history.Floods[early].FirstTimeNs < endNs)
        {
            MeshAddress src = history.Floods[early].Src;
            Tell(history.Floods[early].FirstTimeNs, history.Directory.NodeOf(src), $"{history.Called(src)} sends with the new IV index {coming}", new Evidence("flood", early));
        }
        else if (end >= 0 && Wording.Seconds(begun, endNs) < LeastSeconds)
            Tell(endNs, StarterOf(history, history.Beacons[end]), $"The IV update to index {coming} is told to be over", new Evidence("beacon", end));

        void Tell(long timeNs, MeshAddress? node, string what, Evidence evidence) =>
            findings.Add(Id, Confidence.Certain, timeNs, node, null,
                string.Create(CultureInfo.InvariantCulture, $"{what} at most {Wording.Span(Wording.Seconds(begun, timeNs))} after the update began: it has to stay in progress for 96 h."),
                [new Evidence("beacon", normal), new Evidence("beacon", row), evidence]);
    }

    /// <summary>The first flood with the new index before the 96 h are over, or -1.</summary>
    private static int EarlyFlood(CaptureHistory history, BeaconRecord beacon, uint coming, long begun)
    {
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.IvIndex == coming && flood.Credentials == Credentials.Flooding && flood.FirstTimeNs > begun && Wording.Seconds(begun, flood.FirstTimeNs) < LeastSeconds
                && IsSameNetwork(history, flood.Subnet, beacon.Subnet))
                return row;
        }
        return -1;
    }

    /// <summary>One update is told once, however many kinds of beacons (secure, private, of either key) announce it.</summary>
    private static bool IsFirstOfItsKind(CaptureHistory history, int row)
    {
        for (int before = 0; before < row; before++)
            if (history.Beacons[before] is { Authenticated: true, IvUpdate: true } one && one.IvIndex == history.Beacons[row].IvIndex && IsSameNetwork(history, one, history.Beacons[row]))
                return false;
        return true;
    }

    private static (long First, long Last) SpanOf(CaptureHistory history, BeaconRecord beacon)
    {
        BeaconRecord[] same = [.. history.Beacons.Where(one => one is { Authenticated: true, IvUpdate: true } && one.FirstTimeNs != CapturedFrame.NoTime
            && one.IvIndex == beacon.IvIndex && IsSameNetwork(history, one, beacon))];
        return (same.Min(one => one.FirstTimeNs), same.Max(one => one.LastTimeNs));
    }

    private static bool IsSameNetwork(CaptureHistory history, BeaconRecord one, BeaconRecord other) =>
        one.Subnet >= 0 && other.Subnet >= 0 && IsSameNetwork(history, one.Subnet, other.Subnet);

    /// <summary>The subnets of a network share one IV index (§3.9.4); those of the description are one network, keys given by hand may belong to networks apart.</summary>
    private static bool IsSameNetwork(CaptureHistory history, int one, int other) =>
        IvIndexInUse.GroupOf(history.Keys, one) == IvIndexInUse.GroupOf(history.Keys, other) || (IsDescribed(history, one) && IsDescribed(history, other));

    private static bool IsDescribed(CaptureHistory history, int subnet) =>
        history.Keys.Subnets[subnet].NetKeyIndex is { } index && history.Directory.Description?.NetKeys.Any(key => key.Index == index) == true;

    /// <summary>The node that sent the first of these beacons, where its advertiser address is known.</summary>
    private static MeshAddress? StarterOf(CaptureHistory history, BeaconRecord beacon) =>
        beacon.Frames.Count > 0 && history.Frames[beacon.Frames[0]] is { HasAdvertiser: true } frame ? history.Senders?.OwnerOf(frame.Advertiser) : null;
}
