using System.Globalization;
using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Proxy;

namespace MeshTrace.Analysis.Findings.Rules.Friendship;

/// <summary>The filter of a proxy connection keeps from the phone what it wants to receive (Mesh Protocol 1.1 §6.4).</summary>
internal sealed class ProxyFilterBlocks : IFindingRule
{
    public string Id => "proxy-filter-blocks";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        for (int row = 0; row < history.Connections.Count; row++)
        {
            ConnectionRecord connection = history.Connections[row];
            if (connection.FilterChanges.Count == 0 || connection.ClientAddress is not { } client)
                continue;
            if (!TellIfFull(history, findings, connection, client))
                TellIfBlocked(history, findings, connection, client);
        }
    }

    /// <summary>The server took fewer addresses than it was given, and no later word of it tells otherwise.</summary>
    private bool TellIfFull(CaptureHistory history, FindingSink findings, ConnectionRecord connection, MeshAddress client)
    {
        var asked = new HashSet<MeshAddress>();
        bool certain = connection.BeginHeard, accepts = true;
        int most = -1, frame = -1;
        long timeNs = connection.FirstTimeNs;
        foreach (ProxyFilterChange change in connection.FilterChanges)
        {
            switch (change.Kind)
            {
                case ProxyFilterChangeKind.TypeSet:
                    asked.Clear();
                    (certain, accepts, most) = (true, change.FilterType == ProxyFilterType.AcceptList, -1);
                    break;
                case ProxyFilterChangeKind.Added:
                    asked.UnionWith(change.Addresses);
                    most = -1;
                    break;
                case ProxyFilterChangeKind.Removed:
                    asked.ExceptWith(change.Addresses);
                    most = -1;
                    break;
                case ProxyFilterChangeKind.Told when change.ListSize is { } size && size > most:
                    (most, frame, timeNs) = (size, change.Frame, change.TimeNs);
                    break;
            }
        }
        if (!certain || !accepts || most < 0 || most >= asked.Count)
            return false;
        findings.Add(Id, Confidence.Certain, timeNs, NodeOf(history, connection.ServerAddress), null,
            string.Create(CultureInfo.InvariantCulture,
                $"{Server(history, connection)} holds {most} addresses in the proxy filter of {history.Called(client)}, which asked for {asked.Count}: messages to the others do not reach it."),
            [new Evidence("frame", frame)],
            string.Create(CultureInfo.InvariantCulture, $"Give the proxy a larger filter ({asked.Count} addresses or more), or let the phone use a reject list."));
        return true;
    }

    /// <summary>A group that the phone's node listens to is not let through; at best messages to it were on the air meanwhile.</summary>
    private void TellIfBlocked(CaptureHistory history, FindingSink findings, ConnectionRecord connection, MeshAddress client)
    {
        ProxyFilter filter = connection.FilterAt(long.MaxValue);
        HashSet<MeshAddress> blocked = [.. WantedBy(history, client).Where(group => !filter.Passes(group))];
        if (!filter.IsCertain || blocked.Count == 0)
            return;
        long settled = connection.FilterChanges[^1].TimeNs;
        var kept = new List<int>();
        for (int row = 0; row < history.Floods.Count && connection.LastTimeNs != CapturedFrame.NoTime; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (blocked.Contains(flood.Dst) && flood.HeardOnAir && flood.FirstTimeNs > settled && flood.FirstTimeNs < connection.LastTimeNs && flood.Src != client)
                kept.Add(row);
        }
        string groups = string.Join(", ", blocked.Order().Take(3).Select(history.Called));
        string traffic = kept.Count == 0 ? "" : string.Create(CultureInfo.InvariantCulture, $"; {kept.Count} messages to them were on the air meanwhile");
        findings.Add(Id, kept.Count > 0 ? Confidence.Likely : Confidence.Possible, settled, NodeOf(history, connection.ServerAddress), null,
            $"The proxy filter of {history.Called(client)} at {Server(history, connection)} does not let {groups} through, which {history.Called(client)} listens to{traffic}.",
            [new Evidence("frame", connection.FilterChanges[^1].Frame), .. kept.Select(row => new Evidence("flood", row))],
            filter.Type == ProxyFilterType.AcceptList ? $"Add {groups} to the accept list of the phone's proxy filter." : $"Take {groups} out of the reject list of the phone's proxy filter.");
    }

    /// <summary>Groups that the models of the phone's own node subscribe to, or that its provisioner is said to listen to.</summary>
    private static HashSet<MeshAddress> WantedBy(CaptureHistory history, MeshAddress client)
    {
        MeshAddress node = history.Directory.NodeOf(client);
        var wanted = new HashSet<MeshAddress>();
        if (history.NodeModels is { } models)
        {
            NodeState state = models.Of(node).At(long.MaxValue);
            wanted.UnionWith(state.Models.Members.SelectMany(model => state.SubscriptionsOf(model).Members));
        }
        foreach (DescribedAddress known in history.Directory.Description?.NodeAt(node)?.KnownAddresses ?? [])
            wanted.Add(known.Address);
        wanted.RemoveWhere(address => address.IsUnicast || address == MeshAddress.Unassigned);
        return wanted;
    }

    private static string Server(CaptureHistory history, ConnectionRecord connection) => connection.ServerAddress is { } server ? history.Called(server) : "the proxy";

    private static MeshAddress? NodeOf(CaptureHistory history, MeshAddress? element) => element is { } known ? history.Directory.NodeOf(known) : null;
}
