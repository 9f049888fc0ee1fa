using System.Buffers.Binary;

namespace MeshTrace.Protocol.Link;

/// <summary>Reads what a captured frame tells of connections: the other half of <see cref="LinkReader"/>, which reads advertising.</summary>
public static class ConnectionReader
{
    /// <summary>True if the frame is of a link type whose packets may tell of connections without giving an advertisement: then it must be asked, too.</summary>
    public static bool MayTellWithoutAdvertisement(LinkType type) => type.IsHostLog;

    /// <summary>Reads the packet of a connection, a request for one, or an event about one. Allocates nothing.</summary>
    /// <param name="frame">The frame.</param>
    /// <param name="advertisement">What <see cref="LinkReader"/> read from it last; default if it gave nothing.</param>
    /// <param name="packet">The packet.</param>
    /// <param name="wordIsReversed">In link type 201 the lowest bit of the direction word is 1 for what the host received (<see cref="TellsReversedWord"/>).</param>
    public static bool TryRead(in CapturedFrame frame, in Advertisement advertisement, out ConnectionPacket packet, bool wordIsReversed = false)
    {
        packet = default;
        if (frame.LinkType.IsHostLog)
            return TryReadHost(in frame, wordIsReversed, out packet);
        if (advertisement.IsConnection)
        {
            packet = new ConnectionPacket
            {
                Kind = ConnectionPacketKind.DataChannel, Side = advertisement.Side, AccessAddress = advertisement.AccessAddress, Crc = advertisement.Crc,
                CrcOctets = advertisement.CrcOctets, Problem = advertisement.Problem, IsDecrypted = advertisement.IsDecrypted, Octets = advertisement.Pdu,
            };
            return true;
        }
        if (advertisement.PduTypeOrNone != (byte)AdvertisingPduType.ConnectInd || advertisement.Problem != LinkProblem.None)
            return false;
        packet = new ConnectionPacket { Kind = ConnectionPacketKind.ConnectInd, Side = PacketSide.First, Crc = advertisement.Crc, Octets = advertisement.Pdu };
        return true;
    }

    /// <summary>
    /// Programs write the direction word of link type 201 either way round: the registry has 1 for what the host sent, widespread ones 0. A packet whose sender
    /// is known tells which: events come from controllers, commands and ACL frames begun with boundary flag 0 from hosts. Null where a frame does not tell.
    /// </summary>
    public static bool? TellsReversedWord(in CapturedFrame frame)
    {
        if (frame.LinkType != LinkType.HciH4WithDirection || frame.Octets is not [_, _, _, var word, var indicator, ..] octets)
            return null;
        bool one = (word & 1) != 0;
        return indicator switch
        {
            HciReader.H4Event => one,
            HciReader.H4Command => !one,
            HciReader.H4Acl when octets.Length > 6 && (PacketBoundary)((octets[6] >> 4) & 3) == PacketBoundary.FirstFromHost => !one,
            _ => null,
        };
    }

    private static bool TryReadHost(in CapturedFrame frame, bool wordIsReversed, out ConnectionPacket packet)
    {
        packet = default;
        ReadOnlySpan<byte> octets = frame.Octets;
        bool isAcl, isEvent;
        PacketSide side = PacketSide.Unknown;
        switch (frame.LinkType.Number)
        {
            case 187 or 201:
                int at = frame.LinkType.Number == 201 ? 4 : 0;
                if (octets.Length <= at)
                    return false;
                if (at == 4)
                    side = (octets[3] & 1) != 0 != wordIsReversed ? PacketSide.First : PacketSide.Second;     // lowest bit 1: sent by the host
                else
                    side = SideOf(frame.Hci);
                (isAcl, isEvent) = (octets[at] == HciReader.H4Acl, octets[at] == HciReader.H4Event);
                octets = octets[(at + 1)..];
                break;
            case 254:
                if (octets.Length < 4)
                    return false;
                int opcode = BinaryPrimitives.ReadUInt16BigEndian(octets[2..]);
                isEvent = opcode == HciReader.MonitorEvent;
                isAcl = opcode is HciReader.MonitorAclSent or HciReader.MonitorAclReceived;
                side = opcode == HciReader.MonitorAclSent ? PacketSide.First : PacketSide.Second;
                octets = octets[4..];
                break;
            default:
                isEvent = frame.Hci == HciKind.Event;
                side = SideOf(frame.Hci);
                isAcl = side != PacketSide.Unknown;
                break;
        }
        if (!isAcl && !isEvent)
            return false;
        if (isAcl && octets.Length >= 2)
            side = (PacketBoundary)((octets[1] >> 4) & 3) switch
            {
                // Only a host begins a frame with 0, and on LE a controller begins each with 2: that decides where the direction word is not to be trusted.
                PacketBoundary.FirstFromHost => PacketSide.First,
                PacketBoundary.First when side == PacketSide.Unknown => PacketSide.Second,
                _ => side,
            };
        packet = new ConnectionPacket
        {
            Kind = isAcl ? ConnectionPacketKind.Acl : ConnectionPacketKind.Event, Side = side, Octets = octets,
            Problem = frame.IsCut ? LinkProblem.Truncated : LinkProblem.None,
        };
        return true;
    }

    private static PacketSide SideOf(HciKind kind) => kind switch
    {
        HciKind.AclSent => PacketSide.First,
        HciKind.AclReceived => PacketSide.Second,
        _ => PacketSide.Unknown,
    };
}
