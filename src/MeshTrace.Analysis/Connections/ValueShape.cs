using MeshTrace.Protocol.Beacons;
using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Provisioning;
using MeshTrace.Protocol.Proxy;

namespace MeshTrace.Analysis.Connections;

/// <summary>How much the form of a value speaks for a mesh characteristic.</summary>
internal enum ShapeWeight : byte
{
    /// <summary>It cannot be a Proxy PDU.</summary>
    Against,

    /// <summary>It may be one, as many other values may: a segment, or a short message.</summary>
    Neutral,

    /// <summary>A Network PDU by its length: one alone says little.</summary>
    Network,

    /// <summary>A beacon or provisioning PDU with the length of its type, which hardly anything else has by chance.</summary>
    Strong,
}

/// <summary>Judges values of attributes whose type no discovery told (Mesh Protocol 1.1 §6.3.1, §3.10, §5.4.1).</summary>
internal static class ValueShape
{
    /// <summary>Provisioning PDUs shorter than this fit other values too easily.</summary>
    private const int ShortestTelling = 12;

    /// <summary>Octets of CTL, TTL, SEQ, SRC, DST, one of transport PDU, and a NetMIC of 64 bits.</summary>
    private const int ShortestConfiguration = 18;

    public static ShapeWeight Judge(ReadOnlySpan<byte> value)
    {
        if (!ProxyPdu.TryRead(value, out ProxyPdu pdu, out _) || pdu.MessageType > ProxyMessageType.ProvisioningPdu)
            return ShapeWeight.Against;
        if (pdu.Sar != Sar.Complete)
            return ShapeWeight.Neutral;
        return pdu.MessageType switch
        {
            ProxyMessageType.NetworkPdu => NetworkPdu.TryRead(pdu.Data, out _, out _) ? ShapeWeight.Network : ShapeWeight.Against,
            ProxyMessageType.ProxyConfiguration => pdu.Data.Length is >= ShortestConfiguration and <= NetworkSecurity.LongestPdu ? ShapeWeight.Network : ShapeWeight.Against,
            ProxyMessageType.MeshBeacon => IsBeacon(pdu.Data) ? ShapeWeight.Strong : ShapeWeight.Against,
            _ => !ProvisioningPdu.TryRead(pdu.Data, out _, out _) ? ShapeWeight.Against : pdu.Data.Length >= ShortestTelling ? ShapeWeight.Strong : ShapeWeight.Neutral,
        };
    }

    private static bool IsBeacon(ReadOnlySpan<byte> beacon) =>
        SecureNetworkBeacon.TryRead(beacon, out _, out _) || PrivateBeacon.TryRead(beacon, out _, out _) || UnprovisionedDeviceBeacon.TryRead(beacon, out _, out _);
}
