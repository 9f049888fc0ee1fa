using System.Globalization;
using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings.Rules.Friendship;

/// <summary>What a phone writes to its proxy does not come on the air (Mesh Protocol 1.1 §3.4.6.3). Both bearers must have been recorded at one time.</summary>
internal sealed class ProxyNotForwarding : IFindingRule
{
    /// <summary>PDUs that should have come on the air (ours).</summary>
    private const int EnoughPdus = 5;

    /// <summary>The proxy's own PDUs that show how well it is heard on the air (ours).</summary>
    private const int EnoughOwn = 3;

    /// <summary>A PDU with less is not passed on.</summary>
    private const int LeastTtl = 2;

    public string Id => "proxy-not-forwarding";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        if (history.Connections.Count == 0)
            return;
        var written = new Dictionary<int, Written>();
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if ((flood.HeardBy & Bearers.GattFromClient) == 0 || flood.HighestTtl < LeastTtl || ConnectionOf(history, row) is not (>= 0 and var connection))
                continue;
            if (history.Connections[connection].ServerAddress is not { } server || history.Directory.NodeOf(flood.Dst) == history.Directory.NodeOf(server))
                continue;       // for the proxy itself
            if (!written.TryGetValue(connection, out Written? some))
                written.Add(connection, some = new Written(server));
            some.Floods.Add(row);
            some.OnAir += flood.HeardOnAir ? 1 : 0;
        }
        foreach ((int connection, Written some) in written)
            if (some.OnAir == 0 && some.Floods.Count >= EnoughPdus)
                Judge(history, findings, history.Connections[connection], some);
    }

    private void Judge(CaptureHistory history, FindingSink findings, ConnectionRecord connection, Written some)
    {
        MeshAddress server = history.Directory.NodeOf(some.Server);
        (long from, long to) = (history.Floods[some.Floods[0]].FirstTimeNs, history.Floods[some.Floods[^1]].FirstTimeNs);
        if (from == CapturedFrame.NoTime || history.Deafness.IsDeaf(from, to) || HeardOnAir(history, connection, server) is not { Samples: >= EnoughOwn } share
            || findings.Weighing.Judge(Id, server, Math.Pow(1 - share.Low, some.Floods.Count)) is not { } confidence)
            return;
        string client = connection.ClientAddress is { } phone ? history.Called(phone) : "The phone";
        findings.Add(Id, confidence, from, server, null,
            string.Create(CultureInfo.InvariantCulture,
                $"{client} wrote {some.Floods.Count} PDUs for other nodes to its proxy {history.Called(some.Server)}, and none of them came on the air, where {100 * share.Share:0} % of the proxy's own are heard."),
            [.. some.Floods.Select(row => new Evidence("flood", row))]);
    }

    /// <summary>
    /// How well the proxy is heard on the air: by what it sent to groups and over the connection as well, or by its sequence numbers, whichever counts over more. Null
    /// where neither tells.
    /// </summary>
    private static ShareInterval? HeardOnAir(CaptureHistory history, ConnectionRecord connection, MeshAddress server)
    {
        int own = 0, heard = 0;
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.Dst.IsUnicast || (flood.HeardBy & Bearers.GattFromServer) == 0 || history.Directory.NodeOf(flood.Src) != server
                || flood.FirstTimeNs < connection.FirstTimeNs || flood.FirstTimeNs > connection.LastTimeNs)
                continue;
            own++;
            heard += flood.HeardOnAir ? 1 : 0;
        }
        ShareInterval? byNumbers = history.HeardShares?.FloodIntervalOf(server);
        return own > 0 && !(byNumbers?.Samples > own) ? ShareInterval.Of(heard, own) : byNumbers;
    }

    private static int ConnectionOf(CaptureHistory history, int flood)
    {
        foreach (FloodCopy copy in history.CopiesOf(flood))
            if (copy.Bearer == Bearer.GattFromClient)
                return history.Frames[copy.Frame].Connection ?? -1;
        return -1;
    }

    private sealed class Written(MeshAddress server)
    {
        public MeshAddress Server => server;
        public List<int> Floods { get; } = [];
        public int OnAir { get; set; }
    }
}
