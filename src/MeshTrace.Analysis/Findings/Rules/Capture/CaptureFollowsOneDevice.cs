using System.Globalization;
using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Findings.Rules.Capture;

/// <summary>Nearly all frames come from one advertiser or one connection: the receiver follows it and is deaf to the rest.</summary>
internal sealed class CaptureFollowsOneDevice : IFindingRule
{
    /// <summary>Frames of one device from which on the capture is about it alone (ours).</summary>
    private const double NearlyAll = 0.95;

    /// <summary>Frames looked at, evenly chosen, and least frames that tell something (ours).</summary>
    private const int Sample = 2_000, Enough = 200;

    public string Id => "capture-follows-one-device";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        if (history.Frames.Count < Enough)
            return;
        // The log of a phone or another host holds that host's connections: it is no receiver that could be set otherwise.
        HashSet<int> hosts = [.. history.Connections.Where(connection => connection.AccessAddress is null).Select(connection => connection.Receiver)];
        var advertisers = new Dictionary<ulong, int>();
        int step = Math.Max(1, history.Frames.Count / Sample), looked = 0, connection = 0;
        for (int row = 0; row < history.Frames.Count; row += step)
        {
            ref FrameRow frame = ref history.Frames[row];
            if (frame.Crc == CrcState.Bad || hosts.Contains(frame.Receiver))
                continue;
            looked++;
            if ((frame.Carries & (Carries.Connection | Carries.GattProxy | Carries.GattProvisioning)) != 0)
                connection++;
            else if (frame.HasAdvertiser)
                advertisers[frame.Advertiser] = advertisers.GetValueOrDefault(frame.Advertiser) + 1;
        }
        if (looked < Math.Min(Enough, Sample / 2))
            return;
        (ulong advertiser, int most) = advertisers.Count == 0 ? (0, 0) : advertisers.MaxBy(pair => pair.Value) is var pair ? (pair.Key, pair.Value) : default;
        if (connection >= NearlyAll * looked)
        {
            bool one = history.Connections.Count(heard => heard.AccessAddress is not null) == 1;
            Tell(history, findings, $"{Wording.Percent(connection / (double)looked)} of the frames belong to {(one ? "one connection" : "connections")}", one ? "it" : "them");
        }
        else if (most + connection >= NearlyAll * looked)
            Tell(history, findings, string.Create(CultureInfo.InvariantCulture,
                $"{Wording.Percent((most + connection) / (double)looked)} of the frames come from one device ({Address(advertiser)}{(connection > 0 ? " and connections" : "")})"), "it");
    }

    private void Tell(CaptureHistory history, FindingSink findings, string what, string followed) =>
        findings.Add(Id, Confidence.Likely, history.TimeSpanNs?.First ?? 0, null, null, $"{what}: the receiver followed {followed}, or heard nobody else where it stood.", []);

    private static string Address(ulong advertiser) =>
        string.Join(':', Enumerable.Range(0, 6).Select(at => ((advertiser >> (40 - (8 * at))) & 0xFF).ToString("X2", CultureInfo.InvariantCulture)));
}
