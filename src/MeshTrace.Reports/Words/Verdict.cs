using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.History;

namespace MeshTrace.Reports.Words;

/// <summary>What to say when a capture gave nothing: used in the account and on standard error alike.</summary>
public static class Verdict
{
    private const int MostNids = 8;

    /// <summary>Mesh PDUs were heard and no key opened one.</summary>
    public static string NothingOpened(CaptureHistory history)
    {
        string pdus = Phrases.Count(history.DistinctNetworkPdus, "mesh PDU");
        if (history.Keys.Subnets.Count == 0)
        {
            return $"No network key was given, so none of {pdus} could be opened. NIDs seen were {Nids(history)}. "
                + "Give the network's exported description with --network FILE, or a key with --net-key.";
        }
        string own = Phrases.List(history.Keys.Subnets.Select(subnet => Nid(subnet.Nid)).Distinct().ToList());
        string advice = history.UnknownNids.Any(nid => nid.KeyMatches)
            ? "A given key has a NID that was seen, but no PDU was authentic under it: check the IV index (--iv-index), and whether key and NID agree only by chance, as 1 key of 128 does."
            : "Check that the key is of this network and complete, that the export is newer than the last key refresh, and that the capture was made near this network.";
        return $"None of {pdus} authenticated with these keys. NIDs seen were {Nids(history)}; the given keys have NID {own}. {advice}";
    }

    /// <summary>No Network PDU, beacon or provisioning was heard at all.</summary>
    public static string NoMesh(CaptureHistory history)
    {
        if (history.Frames.Count == 0)
            return "The capture holds no frame. Check that the receiver was recording, and record again.";
        string nothing = $"No Bluetooth mesh traffic in {Phrases.Count(history.Frames.Count, "frame")}.";
        int closed = history.Connections.Count(connection => connection.AccessAddress is not null && connection.Encryption != LinkEncryption.None);
        return closed > 0
            ? $"{nothing} {Phrases.Count(closed, "connection is", "connections are")} encrypted, and what {(closed == 1 ? "it carries" : "they carry")} cannot be read from the air: use the log of the phone's host instead."
            : $"{nothing} Check that the receiver listens to all advertising, not to one device, and that it is near the network.";
    }

    /// <summary>"0x68 (240 frames), 0x12 (3 frames)".</summary>
    internal static string Nids(CaptureHistory history)
    {
        List<string> nids = history.UnknownNids.Select(nid => $"{Nid(nid.Nid)} ({Phrases.Count(nid.Copies, "frame")})").ToList();
        return nids.Count == 0 ? "none" : Phrases.List(nids, MostNids);
    }

    /// <summary>A NID of 7 bits as two hexadecimal digits.</summary>
    internal static string Nid(byte nid) => $"0x{nid:x2}";
}
