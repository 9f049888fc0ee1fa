using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol.Access.Catalogue;

namespace MeshTrace.Reports.Words;

/// <summary>What every section of the account needs.</summary>
/// <param name="History">What the capture told.</param>
/// <param name="Names">What to call addresses.</param>
/// <param name="Vendor">Names of vendor messages, or null.</param>
internal sealed record Account(CaptureHistory History, INames Names, VendorCatalogue? Vendor)
{
    /// <summary>
    /// Share of a node's Network PDUs of which anything was heard, at whatever TTL; null where that cannot be known. (The record's heard share counts
    /// only what the node itself transmitted: it is 0 for a node that is heard through relays alone.)
    /// </summary>
    public double? ShareHeard(NodeRecord node) => History.HeardShares is { } shares ? shares.FloodShareOf(node.Unicast) : node.HeardShare;
}
