using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.LowerTransport;
using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Security;
using MeshTrace.Protocol.UpperTransport;

namespace MeshTrace.Analysis.Tests.Support;

/// <summary>Puts PDUs on the air of a test, frame by frame, with the encoders of the protocol layers.</summary>
internal sealed class AirBuilder
{
    public static readonly byte[] NetKey = Convert.FromHexString("0b9d2e7c51f04a6688c3d1e2f3a49576");
    public static readonly byte[] AppKey = Convert.FromHexString("51a7c0de9b3f42e88d176a2c4be0f913");
    public const uint IvIndex = 5;

    private readonly NetKeyMaterial _net;
    private readonly AppKeyMaterial _app = new(AppKey);
    private readonly uint _ivIndex;

    public AirBuilder(byte[]? netKey = null, uint ivIndex = IvIndex)
    {
        _net = new NetKeyMaterial(netKey ?? NetKey);
        _ivIndex = ivIndex;
    }

    public FrameList Frames { get; } = new();

    /// <summary>A frame with one AD structure.</summary>
    public void Structure(double ms, AdType type, ReadOnlySpan<byte> data, ulong advertiser = 0xC0DE00000001, int channel = 37)
    {
        byte[] advData = [(byte)(data.Length + 1), (byte)type, .. data];
        byte[] frame = new byte[256];
        int length = LeLinkLayerWriter.Write(frame, LinkType.LeLinkLayerWithRadioHeader, AdvertisingPduType.AdvNonconnInd, advertiser, true, advData, channel, -60);
        Frames.Add((long)(ms * 1e6), frame[..length], LinkType.LeLinkLayerWithRadioHeader);
    }

    /// <summary>One copy of a Network PDU.</summary>
    public void Network(double ms, bool ctl, byte ttl, uint seq, ushort src, ushort dst, ReadOnlySpan<byte> transportPdu,
        NetworkCredentials? credentials = null, ulong? advertiser = null, int channel = 37)
    {
        Span<byte> clear = stackalloc byte[NetworkSecurity.LongestPdu], pdu = stackalloc byte[NetworkSecurity.LongestPdu];
        credentials ??= _net.Flooding;
        int length = NetworkSecurity.Write(clear, _ivIndex, credentials.Nid, ctl, ttl, seq, new MeshAddress(src), new MeshAddress(dst), transportPdu);
        length = NetworkSecurity.Encrypt(clear[..length], credentials, _ivIndex, pdu);
        Structure(ms, AdType.MeshMessage, pdu[..length], advertiser ?? (0xC0DE00000000ul + src), channel);
    }

    /// <summary>An access payload as its upper transport PDU.</summary>
    public byte[] Upper(ReadOnlySpan<byte> payload, uint seq, ushort src, ushort dst, byte[]? deviceKey = null, byte[]? appKey = null, byte[]? label = null)
    {
        byte[] upper = new byte[payload.Length + 8];
        AesKey key = deviceKey is null ? (appKey is null ? _app : new AppKeyMaterial(appKey)).Key : new AesKey(deviceKey);
        int length = UpperTransport.Encrypt(payload, key, deviceKey is not null, false, seq, new MeshAddress(src), new MeshAddress(dst), _ivIndex, label ?? [], upper);
        return upper[..length];
    }

    /// <summary>An unsegmented access message, one copy.</summary>
    public void Access(double ms, byte ttl, uint seq, ushort src, ushort dst, string payloadHex, byte[]? deviceKey = null, byte[]? appKey = null,
        NetworkCredentials? credentials = null, byte[]? label = null, ulong? advertiser = null, int channel = 37)
    {
        byte[] upper = Upper(Convert.FromHexString(payloadHex), seq, src, dst, deviceKey, appKey, label);
        byte aid = (appKey is null ? _app : new AppKeyMaterial(appKey)).Aid;
        byte header = deviceKey is null ? (byte)(0x40 | aid) : (byte)0;
        Network(ms, false, ttl, seq, src, dst, (byte[])[header, .. upper], credentials, advertiser, channel);
    }

    /// <summary>The lower transport PDUs of a segmented access message.</summary>
    public List<byte[]> Segments(string payloadHex, uint seq, ushort src, ushort dst, byte[]? deviceKey = null)
    {
        byte[] upper = Upper(Convert.FromHexString(payloadHex), seq, src, dst, deviceKey);
        int segN = (upper.Length - 1) / 12;
        var segments = new List<byte[]>();
        for (int segO = 0; segO <= segN; segO++)
        {
            byte[] pdu = new byte[16];
            int length = SegmentedAccess.Write(pdu, deviceKey is null, deviceKey is null ? _app.Aid : (byte)0, false, (ushort)(seq & 0x1FFF), (byte)segO, (byte)segN,
                upper.AsSpan(segO * 12, Math.Min(12, upper.Length - (segO * 12))));
            segments.Add(pdu[..length]);
        }
        return segments;
    }

    /// <summary>A Segment Acknowledgment, one copy.</summary>
    public void Acknowledge(double ms, uint seq, ushort src, ushort dst, ushort seqZero, uint block, bool obo = false)
    {
        byte[] pdu = new byte[SegmentAcknowledgment.Length];
        SegmentAcknowledgment.Write(pdu, obo, seqZero, block);
        Network(ms, true, 5, seq, src, dst, pdu);
    }

    /// <summary>Analyses what is on the air with the keys of this class.</summary>
    public CaptureHistory Analyse()
    {
        var keys = new KeyArguments { NetKeys = [new TypedKey(0, new KeyOctets(NetKey))], AppKeys = [new TypedKey(0, new KeyOctets(AppKey))] };
        var analysis = new CaptureAnalysis(new AnalysisSettings { Keys = keys });
        analysis.Read(Frames);
        return analysis.Complete();
    }
}
