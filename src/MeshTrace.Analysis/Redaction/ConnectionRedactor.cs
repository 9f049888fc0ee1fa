using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;
using MeshTrace.Analysis.Connections;
using MeshTrace.Protocol.Att;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.LogicalLink;
using MeshTrace.Protocol.Proxy;

namespace MeshTrace.Analysis.Redaction;

/// <summary>
/// Goes through the packets of connections once, before they are made again: mesh messages lie in pieces over several of them, and no piece can be written before
/// the message is whole. Finds what each packet's payload becomes; what is not found here becomes zeros.
/// </summary>
internal sealed class ConnectionRedactor(IReadOnlyList<ConnectionRecord> records, ProxyMessageRedactor messages)
{
    /// <summary>Octets kept for all packets together: those beyond it become zeros.</summary>
    private const int MostOctets = 1 << 26;

    /// <summary>Link-layer control PDUs of which more than the opcode stays: numbers of the connection itself.</summary>
    private const int ConnectionUpdateOctets = 12, TerminateOctets = 2, RejectOctets = 3;

    private readonly Dictionary<int, List<(int At, byte[] Octets)>> _patches = [];
    /// <summary>Those that the analysis knows: of arbitrary packets in the noise each would be another.</summary>
    private readonly Dictionary<(int Receiver, uint Key, bool OnAir), Connection> _connections = records
        .Select(record => (record.Receiver, record.Handle ?? record.AccessAddress ?? 0, record.AccessAddress is not null)).Distinct().ToDictionary(key => key, _ => new Connection());
    private readonly HostDirections _directions = new();
    private int _octets;

    /// <summary>Looks at a packet; in the order of the frames.</summary>
    public void Take(int row, in CapturedFrame frame)
    {
        int position = 0;
        if (frame.LinkType.IsHostLog)
        {
            if (ConnectionReader.TryRead(in frame, default, out ConnectionPacket packet, _directions.IsReversed(in frame)))
                Take(row, in frame, in packet);
        }
        else if (LinkReader.TryReadNext(in frame, ref position, out Advertisement advertisement) && ConnectionReader.TryRead(in frame, in advertisement, out ConnectionPacket packet))
            Take(row, in frame, in packet);
    }

    private void Take(int row, in CapturedFrame frame, in ConnectionPacket packet)
    {
        if (packet.Kind == ConnectionPacketKind.Acl && HciAclPacket.TryRead(packet.Octets, out HciAclPacket acl, out _)
            && _connections.TryGetValue((frame.Receiver, acl.Handle, false), out Connection? logged))
            TakePiece(logged, (int)packet.Side - 1, acl.Boundary != PacketBoundary.Continuation, acl.Data, PlaceOf(row, in frame, acl.Data), frame.TimeNs);
        else if (packet.Kind == ConnectionPacketKind.DataChannel && packet.Problem == LinkProblem.None && DataChannelPdu.TryRead(packet.Octets, out DataChannelPdu pdu, out _)
            && _connections.TryGetValue((frame.Receiver, packet.AccessAddress, true), out Connection? heard))
            TakeDataChannel(heard, (int)packet.Side - 1, in pdu, PlaceOf(row, in frame, pdu.Payload), frame.TimeNs);
    }

    /// <summary>Puts what was found for a packet into its octets.</summary>
    public void Apply(int row, Span<byte> octets)
    {
        if (!_patches.TryGetValue(row, out List<(int At, byte[] Octets)>? patches))
            return;
        foreach ((int at, byte[] found) in patches)
            found.AsSpan(0, Math.Min(found.Length, octets.Length - at)).CopyTo(octets[at..]);
    }

    private void TakeDataChannel(Connection connection, int side, in DataChannelPdu pdu, Piece place, long timeNs)
    {
        if (pdu.Payload.IsEmpty || place.Row < 0)
            return;
        if (pdu.Llid == LogicalLinkId.Control)
        {
            int known = (LinkControlOpcode)pdu.Payload[0] switch
            {
                LinkControlOpcode.ConnectionUpdateInd => ConnectionUpdateOctets,
                LinkControlOpcode.TerminateInd or LinkControlOpcode.RejectInd => TerminateOctets,
                LinkControlOpcode.RejectExtInd => RejectOctets,
                _ => 1,
            };
            Patch(place, 0, pdu.Payload[..Math.Min(known, pdu.Payload.Length)]);
            return;
        }
        // A PDU that is sent again has the SN of the one before, and becomes what that became.
        ref (bool Known, bool Sn, byte[] Payload, Piece Place) last = ref connection.Last[Math.Max(side, 0)];
        if (side >= 0 && last.Known && last.Sn == pdu.Sn && pdu.Payload.SequenceEqual(last.Payload))
        {
            last.Place.Repeats.Add(place with { Repeats = [] });
            if (_patches.TryGetValue(last.Place.Row, out List<(int At, byte[] Octets)>? patches))
                foreach ((int at, byte[] found) in patches.ToArray())
                    Add(place.Row, at - last.Place.At + place.At, found);
            return;
        }
        last = (true, pdu.Sn, pdu.Payload.ToArray(), place);
        TakePiece(connection, side, pdu.Llid == LogicalLinkId.Start, pdu.Payload, place, timeNs);
    }

    private void TakePiece(Connection connection, int side, bool starts, ReadOnlySpan<byte> octets, Piece place, long timeNs)
    {
        if (place.Row < 0)
            return;
        if (side < 0 && (side = SideOf(connection, starts, octets)) < 0)
            return;
        (FrameAssembly assembly, List<Piece> pieces) = (connection.Assemblies[side], connection.Pieces[side]);
        if (starts)
            pieces.Clear();
        pieces.Add(place);
        if (!assembly.Take(starts, octets, out _) || !L2capFrame.TryRead(assembly.Whole, out L2capFrame frame, out _))
            return;
        var whole = new Places([.. pieces]);
        Scatter(whole, 0, assembly.Whole[..L2capFrame.HeaderLength]);
        if (frame.ChannelId == L2capFrame.AttributeProtocol && AttPdu.TryRead(frame.Payload, out AttPdu pdu, out _) && pdu.IsFromClient is { } fromClient)
            TakeAttribute(connection, in pdu, fromClient, frame.Payload, whole, timeNs);
    }

    /// <summary>
    /// Where the capture does not tell who sent a packet: of a whole frame the opcode of the Attribute Protocol tells it; what continues belongs to the only frame
    /// that is open.
    /// </summary>
    private static int SideOf(Connection connection, bool starts, ReadOnlySpan<byte> octets)
    {
        if (!starts)
            return (connection.Assemblies[0].IsOpen, connection.Assemblies[1].IsOpen) switch { (true, false) => 0, (false, true) => 1, _ => -1 };
        return L2capFrame.TryRead(octets, out L2capFrame frame, out _) && frame.ChannelId == L2capFrame.AttributeProtocol && AttPdu.TryRead(frame.Payload, out AttPdu pdu, out _)
            ? pdu.IsFromClient switch { true => 0, false => 1, null => -1 } : -1;
    }

    private void TakeAttribute(Connection connection, in AttPdu pdu, bool fromClient, ReadOnlySpan<byte> octets, Places whole, long timeNs)
    {
        if (pdu.Opcode is AttOpcode.WriteReq or AttOpcode.WriteCmd or AttOpcode.HandleValueNtf or AttOpcode.HandleValueInd)
        {
            const int valueAt = 3;
            Scatter(whole, L2capFrame.HeaderLength, octets[..valueAt]);
            if (pdu.Opcode == AttOpcode.WriteReq && pdu.Value is [<= 3, 0])       // the bits of a Client Characteristic Configuration
                Scatter(whole, L2capFrame.HeaderLength + valueAt, pdu.Value);
            else
                TakeValue(connection.ProxyOf(fromClient, pdu.Handle), fromClient, pdu.Value, whole, L2capFrame.HeaderLength + valueAt, timeNs);
            return;
        }
        byte[] kept = octets.ToArray();
        AttributeStructure.Keep(in pdu, connection.AsksForCharacteristics, kept);
        if (fromClient)
            connection.AsksForCharacteristics = AttributeStructure.AsksForCharacteristics(in pdu);
        Scatter(whole, L2capFrame.HeaderLength, kept);
    }

    /// <summary>A value that may be a Proxy PDU, whole or a segment: written once its message is whole and known as one of the mesh.</summary>
    private void TakeValue(Proxy proxy, bool fromClient, ReadOnlySpan<byte> value, Places whole, int at, long timeNs)
    {
        if (!ProxyPdu.TryRead(value, out ProxyPdu pdu, out _))
            return;
        if (pdu.Sar is Sar.Complete or Sar.First)
            proxy.Parts.Clear();
        proxy.Parts.Add((whole, at, value[0], pdu.Data.Length));
        if (!proxy.Assembly.Take(in pdu, timeNs, out _))
            return;
        byte[] message = proxy.Assembly.Whole.ToArray();
        if (message.Length != proxy.Parts.Sum(part => part.Length) || !messages.TryRedact(pdu.MessageType, fromClient, message))
            return;
        int from = 0;
        foreach ((Places places, int partAt, byte first, int length) in proxy.Parts)
        {
            Scatter(places, partAt, [first, .. message.AsSpan(from, length)]);
            from += length;
        }
    }

    /// <summary>Writes octets of an L2CAP frame where they lie in packets.</summary>
    private void Scatter(Places places, int at, ReadOnlySpan<byte> octets)
    {
        int begin = 0;
        foreach (Piece piece in places.Pieces)
        {
            int from = Math.Max(at, begin), to = Math.Min(at + octets.Length, begin + piece.Length);
            if (from < to)
                Patch(piece, from - begin, octets[(from - at)..(to - at)]);
            begin += piece.Length;
        }
    }

    private void Patch(Piece piece, int at, ReadOnlySpan<byte> octets)
    {
        byte[] found = octets.ToArray();
        Add(piece.Row, piece.At + at, found);
        foreach (Piece repeat in piece.Repeats)
            Add(repeat.Row, repeat.At + at, found);
    }

    private void Add(int row, int at, byte[] octets)
    {
        if (_octets + octets.Length > MostOctets)
            return;
        _octets += octets.Length;
        if (!_patches.TryGetValue(row, out List<(int At, byte[] Octets)>? patches))
            _patches.Add(row, patches = []);
        patches.Add((at, octets));
    }

    /// <summary>Where a part of a frame begins in it; of row -1 where it lies elsewhere, as a dewhitened packet does.</summary>
    private static Piece PlaceOf(int row, scoped in CapturedFrame frame, ReadOnlySpan<byte> part)
    {
        nint at = Unsafe.ByteOffset(ref MemoryMarshal.GetReference(frame.Octets), ref MemoryMarshal.GetReference(part));
        return at >= 0 && at + part.Length <= frame.Octets.Length ? new Piece(row, (int)at, part.Length, []) : new Piece(-1, 0, 0, []);
    }

    /// <summary>A payload in a frame.</summary>
    /// <param name="Row">Of the frame; -1 where it is not known.</param>
    /// <param name="At">Where it begins.</param>
    /// <param name="Length">Its octets.</param>
    /// <param name="Repeats">The same payload sent again.</param>
    private readonly record struct Piece(int Row, int At, int Length, List<Piece> Repeats);

    /// <summary>The payloads that an L2CAP frame lies in, in order.</summary>
    private sealed record Places(Piece[] Pieces);

    /// <summary>One characteristic in one direction.</summary>
    private sealed class Proxy
    {
        public ProxyAssembly Assembly { get; } = new();
        public List<(Places Places, int At, byte First, int Length)> Parts { get; } = [];
    }

    private sealed class Connection
    {
        private readonly Dictionary<(bool FromClient, ushort Handle), Proxy> _proxies = [];

        public FrameAssembly[] Assemblies { get; } = [new(), new()];
        public List<Piece>[] Pieces { get; } = [[], []];
        public (bool Known, bool Sn, byte[] Payload, Piece Place)[] Last { get; } = new (bool, bool, byte[], Piece)[2];
        public bool AsksForCharacteristics { get; set; }

        public Proxy ProxyOf(bool fromClient, ushort handle)
        {
            if (!_proxies.TryGetValue((fromClient, handle), out Proxy? proxy))
                _proxies.Add((fromClient, handle), proxy = new Proxy());
            return proxy;
        }
    }
}
