using System.Globalization;
using MeshTrace.Analysis.Beacons;
using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Findings.Rules.Address;

/// <summary>Mesh traffic that no key opens. Neighbours are normal: a remark, unless nothing at all was opened.</summary>
internal sealed class UnknownNetwork : IFindingRule
{
    /// <summary>Fewer PDUs are stray or damaged (ours).</summary>
    private const int Enough = 3;
    private const int MostNids = 6;

    public string Id => "unknown-network";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        UnknownNid[] nids = [.. history.UnknownNids.Where(nid => nid.Pdus >= Enough)];
        if (nids.Length == 0)
            return;
        int pdus = nids.Sum(nid => nid.Pdus);
        string list = FindingWords.List(nids.Select(nid => string.Create(CultureInfo.InvariantCulture, $"0x{nid.Nid:x2} ({nid.Pdus} PDUs)")), MostNids);
        int[] beacons = [.. Enumerable.Range(0, history.Beacons.Count).Where(row => history.Beacons[row] is { Kind: BeaconKind.Secure, Authenticated: null, NetworkId: not null })];
        string networks = beacons.Length == 0 ? "" : $"; beacons of unknown networks tell Network ID {FindingWords.List(beacons.Select(row => history.Beacons[row].NetworkId!).Distinct(), MostNids)}";
        string match = nids.Any(nid => nid.KeyMatches) ? "; a given key has one of these NIDs but opens none of its PDUs: by chance (1 in 128), or its IV index is not known here" : "";
        string whose = history.OpenedNetworkPdus > 0 ? "neighbours' networks are normal, or a NetKey is missing" : "not one PDU was opened, so the NetKey of this network is missing or wrong";
        if (TellsOfFriendship(history))
            whose += ", or a Low Power node and its Friend speak, whose keys follow from Friend Request and Friend Offer: one of these was not heard";
        findings.Add(Id, Confidence.Certain, history.TimeSpanNs?.First ?? 0, null, null,
            $"{pdus} Network PDUs open with no key, NID {list}{networks}: {whose}{match}.", [.. beacons.Select(row => new Evidence("beacon", row))]);
    }

    /// <summary>A Friend Request or a Friend Offer was heard: what follows it under the keys of the friendship is no other network.</summary>
    private static bool TellsOfFriendship(CaptureHistory history)
    {
        const uint friendRequest = 0x03, friendOffer = 0x04;
        for (int row = 0; row < history.Messages.Count; row++)
            if (history.Messages[row] is { IsControl: true, Opcode.Value: friendRequest or friendOffer })
                return true;
        return false;
    }
}
