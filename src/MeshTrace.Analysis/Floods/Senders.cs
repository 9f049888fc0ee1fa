using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Repeats;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Floods;

/// <summary>
/// Which node uses which advertiser address. The address is not part of the Network PDU and many stacks change it; where an address does not clearly
/// belong to one node, nobody is named.
/// </summary>
public sealed class Senders
{
    private readonly Dictionary<ushort, List<ulong>> _byNode = [];
    private readonly RadioSettings _settings;

    internal Senders(CaptureHistory history, NodeDirectory nodes, RadioSettings settings)
    {
        _settings = settings;
        Streams = new FloodStreams(history, nodes, settings);
        Evidence = new SenderEvidence(history, Streams);
        Owners = new AddressOwners(Streams, Evidence, settings);
        Owners.Decide();
        for (int advertiser = 0; advertiser < Evidence.Advertisers.Count; advertiser++)
        {
            if (Owners.Confidence[advertiser] != SenderConfidence.Likely)
                continue;
            ushort node = Streams.NodeAt(Owners.Owner[advertiser]).Value;
            if (!_byNode.TryGetValue(node, out List<ulong>? own))
                _byNode.Add(node, own = []);
            own.Add(Evidence.Advertisers[advertiser]);
        }
    }

    internal FloodStreams Streams { get; }
    internal SenderEvidence Evidence { get; }
    internal AddressOwners Owners { get; }

    /// <summary>True if every word about the node (a row of <see cref="Streams"/>) says that it does not relay.</summary>
    internal bool NeverRelays(int node) => _settings.NeverRelays(Streams.NodeAt(node));

    /// <summary>Copies have their senders: what was kept of each of them until then is given back.</summary>
    internal void ForgetEvidence() => Evidence.Forget();

    /// <summary>The node that most likely uses an advertiser address, or null.</summary>
    public MeshAddress? OwnerOf(ulong advertiser) => GuessOwnerOf(advertiser) is { Confidence: SenderConfidence.Likely } guess ? guess.Node : null;

    /// <summary>The node that uses an advertiser address, and how far that can be said.</summary>
    public (MeshAddress? Node, SenderConfidence Confidence) GuessOwnerOf(ulong advertiser)
    {
        int row = Evidence.Advertisers.Find(advertiser);
        return row < 0 || Owners.Confidence[row] == SenderConfidence.Unknown
            ? (null, SenderConfidence.Unknown)
            : (Streams.NodeAt(Owners.Owner[row]), Owners.Confidence[row]);
    }

    /// <summary>Advertiser addresses of a node, in the order met.</summary>
    public IReadOnlyList<ulong> AdvertisersOf(MeshAddress node) => _byNode.TryGetValue(node.Value, out List<ulong>? own) ? own : [];
}
