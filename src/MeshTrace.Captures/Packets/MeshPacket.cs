using System.Diagnostics.CodeAnalysis;
using MeshTrace.Protocol.Link;
using PacketDotNet;
using PacketDotNet.Utils;

namespace MeshTrace.Captures.Packets;

/// <summary>
/// The layers of a mesh as packets of PacketDotNet, for those whose programs are made of these: <c>packet.Extract&lt;ClearNetworkPacket&gt;()</c> and so on.
/// </summary>
/// <remarks>
/// <see cref="AdvertisingPacket"/> &gt; <see cref="AdStructurePacket"/> (one after the other) &gt; <see cref="NetworkPduPacket"/> &gt; with keys
/// <see cref="ClearNetworkPacket"/> &gt; <see cref="LowerTransportPacket"/>. What cannot be decoded stays as <see cref="Packet.PayloadData"/> of the layer
/// before it; nothing throws. Each layer is an object and is made when it is asked for: use the readers of MeshTrace.Protocol for millions of frames.
/// </remarks>
public abstract class MeshPacket : Packet
{
    private protected MeshPacket()
    {
    }

    /// <summary>One line: the layer's name and fields.</summary>
    public abstract string Summary { get; }

    /// <summary>Reads all that one frame tells: one advertisement from the air; each report of an HCI event.</summary>
    /// <param name="linkType">Its link type, such as <c>new LinkType((int)device.LinkType)</c>.</param>
    /// <param name="octets">The frame; kept, not copied.</param>
    /// <param name="keys">Opens Network PDUs; null leaves them closed.</param>
    public static IReadOnlyList<AdvertisingPacket> ReadAll(LinkType linkType, byte[] octets, PacketKeys? keys = null)
    {
        ArgumentNullException.ThrowIfNull(octets);
        var frame = new CapturedFrame { Receiver = 0, LinkType = linkType, TimeNs = CapturedFrame.NoTime, OriginalLength = octets.Length, FileOffset = 0, Octets = octets };
        return ReadAll(in frame, octets, keys);
    }

    /// <summary>As the other form, for a frame of a capture; its octets are copied.</summary>
    public static IReadOnlyList<AdvertisingPacket> ReadAll(in CapturedFrame frame, PacketKeys? keys = null)
    {
        byte[] octets = frame.Octets.ToArray();
        var kept = new CapturedFrame
        {
            Receiver = frame.Receiver, LinkType = frame.LinkType, TimeNs = frame.TimeNs, OriginalLength = frame.OriginalLength, FileOffset = frame.FileOffset,
            Octets = octets, Hci = frame.Hci, MarkedCrcBad = frame.MarkedCrcBad,
        };
        return ReadAll(in kept, octets, keys);
    }

    /// <inheritdoc />
    public override string ToString(StringOutputType outputFormat) => $"[{Summary}]{base.ToString(outputFormat)}";

    private protected static LazySlim<PacketOrByteArraySegment> Data(ByteArraySegment octets) => new(() => new PacketOrByteArraySegment { ByteArraySegment = octets });

    private protected static LazySlim<PacketOrByteArraySegment> Layer(Func<Packet?> packet, ByteArraySegment otherwise) =>
        new(() => packet() is { } read ? new PacketOrByteArraySegment { Packet = read } : new PacketOrByteArraySegment { ByteArraySegment = otherwise });

    /// <summary>A piece that ends where its layer ends: what stands behind it in the array is none of it.</summary>
    private protected static ByteArraySegment Piece(ByteArraySegment whole, int from, int length) => new(whole.Bytes, whole.Offset + from, length, whole.Offset + from + length);

    private protected static ByteArraySegment Piece(ByteArraySegment whole, int from) => Piece(whole, from, whole.Length - from);

    private protected static ReadOnlySpan<byte> Span(ByteArraySegment octets) => octets.Bytes.AsSpan(octets.Offset, octets.Length);

    [SuppressMessage("Style", "IDE0060", Justification = "The frame's octets are the array.")]
    private static List<AdvertisingPacket> ReadAll(in CapturedFrame frame, byte[] octets, PacketKeys? keys)
    {
        var packets = new List<AdvertisingPacket>(1);
        int position = 0;
        while (LinkReader.TryReadNext(in frame, ref position, out Advertisement advertisement))
            packets.Add(new AdvertisingPacket(in advertisement, octets, keys));
        return packets;
    }
}
