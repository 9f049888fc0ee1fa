using MeshTrace.Protocol;
using MeshTrace.Protocol.Beacons;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.LowerTransport;
using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Security;
using MeshTrace.Protocol.UpperTransport;
using MeshTrace.Synthesis.Radio;
using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Load;

/// <summary>A node of a load capture.</summary>
internal sealed class LoadNode
{
    internal required MeshAddress Unicast { get; init; }
    internal required ulong Advertiser { get; init; }
    internal required sbyte RssiDbm { get; init; }
    internal uint Sequence { get; set; }

    /// <summary>It sends nothing before this time, so that its SEQ rises with time.</summary>
    internal long FreeAtUs { get; set; }
    internal byte Tid { get; set; }
}

/// <summary>One network of a load capture: keys, nodes, and its PDUs as AdvData.</summary>
internal sealed class LoadNetwork
{
    internal const uint IvIndex = 5;

    /// <summary>One node in so many is a panel.</summary>
    internal const int NodesPerPanel = 10;
    private readonly NetKeyMaterial _netKey;
    private readonly AppKeyMaterial _appKey;

    internal LoadNetwork(NetKeyPlan netKey, AppKeyPlan appKey, ushort firstUnicast, int nodes, bool known, Randomness random)
    {
        Known = known;
        _netKey = new NetKeyMaterial(netKey.Key);
        _appKey = new AppKeyMaterial(appKey.Key);
        Nodes = new LoadNode[nodes];
        for (int i = 0; i < nodes; i++)
        {
            Nodes[i] = new LoadNode
            {
                Unicast = new MeshAddress((ushort)(firstUnicast + i)), Advertiser = (random.Next64() & 0x3FFF_FFFF_FFFF) | 0xC000_0000_0000,
                RssiDbm = (sbyte)random.Between(-90, -45), Sequence = (uint)random.Below(10_000), Tid = (byte)random.Below(256),
            };
        }
        Beacon = new byte[SecureNetworkBeacon.Length + 2];
        Span<byte> beacon = stackalloc byte[SecureNetworkBeacon.Length];
        SecureNetworkBeacon.Write(beacon, default, _netKey.NetworkId, IvIndex, _netKey.BeaconKey);
        AdStructureWriter.Write(Beacon, AdType.MeshBeacon, beacon);
    }

    internal bool Known { get; }
    internal LoadNode[] Nodes { get; }

    /// <summary>AdvData of its secure network beacon.</summary>
    internal byte[] Beacon { get; }

    /// <summary>The group of a panel: its own unicast address with the group bits set.</summary>
    internal static MeshAddress GroupOf(LoadNode panel) => new((ushort)(0xC000 | (panel.Unicast.Value & 0x3FFF)));

    /// <summary>Writes the clear Network PDU of an unsegmented access message; returns its length.</summary>
    internal int WriteClear(Span<byte> clear, LoadNode src, MeshAddress dst, ReadOnlySpan<byte> payload)
    {
        uint seq = src.Sequence++;
        Span<byte> upper = stackalloc byte[15], transport = stackalloc byte[16];
        int length = UpperTransport.Encrypt(payload, _appKey.Key, false, false, seq, src.Unicast, dst, IvIndex, [], upper);
        length = UnsegmentedAccess.Write(transport, true, _appKey.Aid, upper[..length]);
        return NetworkSecurity.Write(clear, IvIndex, _netKey.Flooding.Nid, false, 0, seq, src.Unicast, dst, transport[..length]);
    }

    /// <summary>AdvData of the PDU at a TTL.</summary>
    internal byte[] Encrypt(Span<byte> clear, byte ttl)
    {
        clear[1] = (byte)((clear[1] & 0x80) | ttl);
        Span<byte> pdu = stackalloc byte[NetworkSecurity.LongestPdu];
        int length = NetworkSecurity.Encrypt(clear, _netKey.Flooding, IvIndex, pdu);
        byte[] advData = new byte[length + 2];
        AdStructureWriter.Write(advData, AdType.MeshMessage, pdu[..length]);
        return advData;
    }
}
