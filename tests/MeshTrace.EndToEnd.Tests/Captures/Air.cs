using MeshTrace.Captures.Files;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Beacons;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.LowerTransport;
using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Security;
using MeshTrace.Protocol.UpperTransport;

namespace MeshTrace.EndToEnd.Tests.Captures;

/// <summary>Records frames one after the other, as a receiver would, into a pcap file of link type 251.</summary>
internal sealed class Air : IDisposable
{
    public const long Begin = 1_772_474_400_000_000_000;      // 2026-03-02T18:00:00Z
    private const ulong Advertiser = 0xC0FFEE001234;

    private readonly MemoryStream _file = new();
    private readonly PcapWriter _writer;
    private long _timeNs = Begin;

    public Air() => _writer = new PcapWriter(_file, LinkType.LeLinkLayer, nanoseconds: true);

    /// <summary>Lets time pass.</summary>
    public Air Wait(double seconds)
    {
        _timeNs += (long)(seconds * 1e9);
        return this;
    }

    /// <summary>One advertising event that carries an AD structure.</summary>
    public Air Advertise(AdType type, ReadOnlySpan<byte> data, ulong advertiser = Advertiser, bool corruptCrc = false)
    {
        Span<byte> structure = stackalloc byte[31], frame = stackalloc byte[LeLinkLayerWriter.LongestFrame];
        int length = AdStructureWriter.Write(structure, type, data);
        int written = LeLinkLayerWriter.Write(frame, LinkType.LeLinkLayer, AdvertisingPduType.AdvNonconnInd, advertiser, random: true, structure[..length], 37, -60, corruptCrc);
        _writer.Write(_timeNs, frame[..written]);
        _timeNs += 20_000_000;
        return this;
    }

    /// <summary>A Network PDU as it is on the air.</summary>
    public Air Network(ReadOnlySpan<byte> pdu, ulong advertiser = Advertiser) => Advertise(AdType.MeshMessage, pdu, advertiser);

    /// <summary>An unsegmented access message under an AppKey.</summary>
    public Air Access(byte[] netKey, byte[] appKey, uint ivIndex, ushort src, ushort dst, uint seq, byte ttl, byte[] payload)
    {
        var credentials = NetworkCredentials.Flooding(netKey);
        var app = new AppKeyMaterial(appKey);
        MeshAddress from = new(src), to = new(dst);
        Span<byte> upper = stackalloc byte[15], lower = stackalloc byte[16], clear = stackalloc byte[NetworkSecurity.LongestPdu], pdu = stackalloc byte[NetworkSecurity.LongestPdu];
        upper = upper[..UpperTransport.Encrypt(payload, app.Key, deviceKey: false, szMic: false, seq, from, to, ivIndex, [], upper)];
        lower = lower[..UnsegmentedAccess.Write(lower, akf: true, app.Aid, upper)];
        int clearLength = NetworkSecurity.Write(clear, ivIndex, credentials.Nid, ctl: false, ttl, seq, from, to, lower);
        int length = NetworkSecurity.Encrypt(clear[..clearLength], credentials, ivIndex, pdu);
        return Network(pdu[..length], 0xC0FFEE000000ul + src);
    }

    /// <summary>An unsegmented control message: opcode and parameters.</summary>
    public Air Control(byte[] netKey, uint ivIndex, ushort src, ushort dst, uint seq, byte ttl, params byte[] transportPdu)
    {
        var credentials = NetworkCredentials.Flooding(netKey);
        Span<byte> clear = stackalloc byte[NetworkSecurity.LongestPdu], pdu = stackalloc byte[NetworkSecurity.LongestPdu];
        int clearLength = NetworkSecurity.Write(clear, ivIndex, credentials.Nid, ctl: true, ttl, seq, new MeshAddress(src), new MeshAddress(dst), transportPdu);
        int length = NetworkSecurity.Encrypt(clear[..clearLength], credentials, ivIndex, pdu);
        return Network(pdu[..length], 0xC0FFEE000000ul + src);
    }

    /// <summary>A Secure Network beacon.</summary>
    public Air Beacon(byte[] netKey, uint ivIndex)
    {
        var material = new NetKeyMaterial(netKey);
        Span<byte> beacon = stackalloc byte[22];
        int length = SecureNetworkBeacon.Write(beacon, default, material.NetworkId, ivIndex, material.BeaconKey);
        return Advertise(AdType.MeshBeacon, beacon[..length]);
    }

    /// <summary>The file so far.</summary>
    public byte[] ToArray() => _file.ToArray();

    public void Dispose() => _writer.Dispose();
}
