using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Att;
using MeshTrace.Protocol.Beacons;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Provisioning;
using MeshTrace.Protocol.Proxy;

namespace MeshTrace.Analysis.TextLogs;

/// <summary>
/// Decides what the octets of a log line are. A NetMIC that fits is certain; then the words of the line, where the octets fit them; then the form of the
/// octets.
/// </summary>
internal sealed class TextLineJudge(KeyRing keys)
{
    /// <summary>Octets of TransMIC and one of payload; 32 segments of 12 octets (Mesh Protocol 1.1 §3.5.2, §3.6.2).</summary>
    private const int ShortestUpper = 5, LongestUpper = 384;

    /// <summary>Provisioning PDUs shorter than this fit other octets too easily.</summary>
    private const int ShortestTelling = 12;

    /// <param name="line">The line.</param>
    /// <param name="continues">A segmented Proxy PDU is open that the line may continue.</param>
    public (TextLineKind Kind, TextLineReason Reason) Judge(in LogLine line, bool continues)
    {
        ReadOnlySpan<byte> octets = line.Octets;
        if (octets.Length < 2)
            return (TextLineKind.NoOctets, TextLineReason.None);
        if (NetworkTrial.Opens(keys, octets) == true)
            return (TextLineKind.NetworkPdu, TextLineReason.NetMic);
        bool isProxy = ProxyPdu.TryRead(octets, out ProxyPdu proxy, out _);
        ShapeWeight shape = ValueShape.Judge(octets);
        if (isProxy && shape == ShapeWeight.Network && NetworkTrial.Opens(keys, proxy.Data) == true)
            return (TextLineKind.ProxyPdu, TextLineReason.NetMic);
        if ((line.Words & LineWords.Key) != 0)
            return (TextLineKind.Key, TextLineReason.Words);
        if (ByWords(line.Words, octets, shape) is { } told)
            return (told, TextLineReason.Words);
        return ByForm(octets, in proxy, shape, continues, isValue: line.Direction >= LineDirection.Written) is { } formed ? (formed, TextLineReason.Form) : (TextLineKind.Unclear, TextLineReason.None);
    }

    private static TextLineKind? ByWords(LineWords words, ReadOnlySpan<byte> octets, ShapeWeight shape)
    {
        bool isProvisioning = ProvisioningPdu.TryRead(octets, out _, out _);
        if ((words & LineWords.Proxy) != 0 && shape != ShapeWeight.Against)
            return TextLineKind.ProxyPdu;
        if ((words & LineWords.Beacon) != 0 && IsBeacon(octets))
            return TextLineKind.Beacon;
        if ((words & LineWords.Provisioning) != 0)
        {
            // A PDU with the header of the proxy protocol begins with 3 or a segment of it; a bare one of type 3 is 65 octets long.
            if (isProvisioning)
                return TextLineKind.ProvisioningPdu;
            if (shape != ShapeWeight.Against && (octets[0] & 0x3F) == (byte)ProxyMessageType.ProvisioningPdu)
                return TextLineKind.ProxyPdu;
        }
        if ((words & LineWords.UpperTransport) != 0 && octets.Length is >= ShortestUpper and <= LongestUpper)
            return TextLineKind.UpperTransportPdu;
        if ((words & LineWords.Access) != 0 && IsAccess(octets))
            return TextLineKind.AccessPayload;
        return (words & LineWords.Network) != 0 && NetworkPdu.TryRead(octets, out _, out _) ? TextLineKind.NetworkPdu : null;
    }

    private TextLineKind? ByForm(ReadOnlySpan<byte> octets, in ProxyPdu proxy, ShapeWeight shape, bool continues, bool isValue)
    {
        if (shape == ShapeWeight.Strong)
            return TextLineKind.ProxyPdu;
        if (isValue && shape == ShapeWeight.Against)
            return null;        // what is written or notified is a Proxy PDU or nothing of the mesh
        if (IsBeacon(octets))
            return TextLineKind.Beacon;
        bool isNetwork = NetworkPdu.TryRead(octets, out NetworkPdu pdu, out _);
        if (isNetwork && keys.CandidatesFor(pdu.Nid).Count > 0)
            return TextLineKind.NetworkPdu;
        if (shape == ShapeWeight.Network)
            return TextLineKind.ProxyPdu;
        if (shape == ShapeWeight.Neutral && (isValue || IsLikelySegment(in proxy, continues)))
            return TextLineKind.ProxyPdu;
        if (octets.Length >= ShortestTelling && ProvisioningPdu.TryRead(octets, out _, out _))
            return TextLineKind.ProvisioningPdu;
        if (octets[0] >> 6 == 2 && IsAccess(octets))
            return TextLineKind.AccessPayload;      // a two-octet opcode that exists, with the parameters that belong to it
        return isNetwork ? TextLineKind.NetworkPdu : null;
    }

    /// <summary>A short provisioning PDU; the first segment of a message, which is as long as the least ATT_MTU lets it be; or one that continues what is open.</summary>
    private static bool IsLikelySegment(in ProxyPdu proxy, bool continues) => proxy.Sar switch
    {
        Sar.Complete => proxy.MessageType == ProxyMessageType.ProvisioningPdu,
        Sar.First => proxy.MessageType == ProxyMessageType.ProvisioningPdu || proxy.Data.Length >= AttPdu.DefaultMtu - 4,
        _ => continues,
    };

    private static bool IsAccess(ReadOnlySpan<byte> octets) => AccessReader.Read(octets) is { Definition: not null, Problem.IsProblem: false };

    private static bool IsBeacon(ReadOnlySpan<byte> octets) =>
        SecureNetworkBeacon.TryRead(octets, out _, out _) || PrivateBeacon.TryRead(octets, out _, out _) || UnprovisionedDeviceBeacon.TryRead(octets, out _, out _);
}
