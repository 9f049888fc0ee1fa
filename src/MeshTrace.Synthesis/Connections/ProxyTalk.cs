using MeshTrace.Protocol;
using MeshTrace.Protocol.LowerTransport;
using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Security;
using MeshTrace.Protocol.UpperTransport;

namespace MeshTrace.Synthesis.Connections;

/// <summary>Makes Network PDUs of messages: one sequence number after the other for each source.</summary>
internal sealed class ProxyTalk(byte[] netKey, byte[] appKey, uint ivIndex)
{
    private const int SegmentLength = 12, LongestUnsegmented = 11;
    private readonly NetKeyMaterial _net = new(netKey);
    private readonly AppKeyMaterial _app = new(appKey);
    private readonly Dictionary<ushort, uint> _seqs = [];

    public NetKeyMaterial Net => _net;

    /// <summary>The PDUs of an access message: one, or its segments.</summary>
    /// <param name="deviceKey">Key of the node, or null for the application key.</param>
    public List<byte[]> Access(ushort src, ushort dst, byte ttl, byte[] payload, byte[]? deviceKey, out ushort seqZero)
    {
        uint seq = NextSeq(src, peek: true);
        seqZero = (ushort)(seq & 0x1FFF);
        byte[] upper = new byte[payload.Length + 4];
        AesKey key = deviceKey is null ? _app.Key : new AesKey(deviceKey);
        UpperTransport.Encrypt(payload, key, deviceKey is not null, szMic: false, seq, new MeshAddress(src), new MeshAddress(dst), ivIndex, [], upper);
        byte aid = deviceKey is null ? _app.Aid : (byte)0;
        var pdus = new List<byte[]>();
        byte[] lower = new byte[16];
        if (payload.Length <= LongestUnsegmented)
        {
            int length = UnsegmentedAccess.Write(lower, deviceKey is null, aid, upper);
            pdus.Add(Network(src, dst, ttl, ctl: false, lower.AsSpan(0, length)));
            return pdus;
        }
        int segN = (upper.Length - 1) / SegmentLength;
        for (int segO = 0; segO <= segN; segO++)
        {
            int length = SegmentedAccess.Write(lower, deviceKey is null, aid, false, seqZero, (byte)segO, (byte)segN,
                upper.AsSpan(segO * SegmentLength, Math.Min(SegmentLength, upper.Length - (segO * SegmentLength))));
            pdus.Add(Network(src, dst, ttl, ctl: false, lower.AsSpan(0, length)));
        }
        return pdus;
    }

    /// <summary>Acknowledges all segments of a message.</summary>
    public byte[] Acknowledge(ushort src, ushort dst, byte ttl, ushort seqZero, int segments)
    {
        byte[] pdu = new byte[SegmentAcknowledgment.Length];
        SegmentAcknowledgment.Write(pdu, obo: false, seqZero, segments == 32 ? uint.MaxValue : (1u << segments) - 1);
        return Network(src, dst, ttl, ctl: true, pdu);
    }

    /// <summary>A proxy configuration message (Mesh Protocol 1.1 §6.6): CTL 1, TTL 0, DST unassigned, secured with the proxy nonce.</summary>
    public byte[] Configuration(ushort src, ReadOnlySpan<byte> message)
    {
        Span<byte> clear = stackalloc byte[NetworkSecurity.LongestPdu];
        byte[] pdu = new byte[NetworkSecurity.LongestPdu];
        int length = NetworkSecurity.Write(clear, ivIndex, _net.Flooding.Nid, ctl: true, 0, NextSeq(src), new MeshAddress(src), MeshAddress.Unassigned, message);
        return pdu[..NetworkSecurity.EncryptProxyConfiguration(clear[..length], _net.Flooding, ivIndex, pdu)];
    }

    private byte[] Network(ushort src, ushort dst, byte ttl, bool ctl, ReadOnlySpan<byte> transportPdu)
    {
        Span<byte> clear = stackalloc byte[NetworkSecurity.LongestPdu];
        byte[] pdu = new byte[NetworkSecurity.LongestPdu];
        int length = NetworkSecurity.Write(clear, ivIndex, _net.Flooding.Nid, ctl, ttl, NextSeq(src), new MeshAddress(src), new MeshAddress(dst), transportPdu);
        return pdu[..NetworkSecurity.Encrypt(clear[..length], _net.Flooding, ivIndex, pdu)];
    }

    private uint NextSeq(ushort src, bool peek = false)
    {
        uint seq = _seqs.GetValueOrDefault(src, 0x100u + src);
        if (!peek)
            _seqs[src] = seq + 1;
        return seq;
    }
}
