using System.Buffers.Binary;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.LogicalLink;

namespace MeshTrace.Synthesis.Connections;

/// <summary>In which form a host's log is written.</summary>
public enum HostLogForm : byte
{
    /// <summary>BTSnoop of datalink 1002 (H4).</summary>
    BtSnoopH4,

    /// <summary>BTSnoop of datalink 1001 (no indicator).</summary>
    BtSnoopUnframed,

    /// <summary>pcap of link type 187: no word on the direction.</summary>
    PcapH4,

    /// <summary>pcap of link type 201.</summary>
    PcapH4WithDirection,

    /// <summary>pcap of link type 254.</summary>
    PcapMonitor,
}

/// <summary>Records the connections of a phone as the log of its own host: events, and ACL packets of the size that its controller takes.</summary>
public static class HostLogWriter
{
    private const int AclLength = 27, FirstHandle = 0x0040;
    private const byte ConnectionTerminatedByLocalHost = 0x16, AclIndicator = 0x02, EventIndicator = 0x04;
    private const long EpochNs = 1_772_449_200_000_000_000;     // 2026-03-02T11:00:00Z

    private const uint Received = 1, ControlPacket = 2;

    /// <summary>Writes the log; the stream stays open.</summary>
    public static void Write(Stream stream, IReadOnlyList<ConnectionScript> connections, HostLogForm form)
    {
        using IDisposable file = form is HostLogForm.BtSnoopH4 ? new BtSnoopWriter(stream, 1002, leaveOpen: true)
            : form is HostLogForm.BtSnoopUnframed ? new BtSnoopWriter(stream, 1001, leaveOpen: true)
            : new PcapWriter(stream, TypeOf(form), nanoseconds: true, leaveOpen: true);
        Span<byte> octets = stackalloc byte[HciReportWriter.LongestFrame], advData = stackalloc byte[31];
        for (int i = 0; i < connections.Count; i++)
        {
            ConnectionScript script = connections[i];
            ushort handle = (ushort)(FirstHandle + (i % 2));
            int length = AdStructureWriter.Write(advData, AdType.ServiceData16, script.ServiceData);
            length = HciReportWriter.Write(octets, new LinkType(0x10000 + 1001), AdvertisingPduType.AdvInd, script.Peripheral, true, advData[..length], -58);
            Put(file, form, script.BeginUs - 300_000, isEvent: true, sent: false, octets[..length]);
            Put(file, form, script.BeginUs, isEvent: true, sent: false, octets[..HciLeEvent.WriteConnected(octets, handle, isCentral: true, script.Peripheral, peerIsRandom: true, 24)]);
            foreach (ScriptedPdu pdu in script.Pdus)
                PutAcl(file, form, handle, pdu);
            Put(file, form, script.EndUs, isEvent: true, sent: false, octets[..HciLeEvent.WriteDisconnected(octets, handle, ConnectionTerminatedByLocalHost)]);
        }
    }

    private static void PutAcl(IDisposable file, HostLogForm form, ushort handle, ScriptedPdu pdu)
    {
        int at = 0;
        foreach (byte[] packet in AclPackets(handle, pdu.FromClient, pdu.AttPdu))
        {
            Put(file, form, pdu.TimeUs + at, isEvent: false, pdu.FromClient, packet);
            at += AclLength;
        }
    }

    /// <summary>A PDU of the Attribute Protocol in ACL packets of the size that the controller takes.</summary>
    internal static List<byte[]> AclPackets(ushort handle, bool fromHost, ReadOnlySpan<byte> attPdu)
    {
        byte[] frame = new byte[L2capFrame.HeaderLength + attPdu.Length], packet = new byte[HciAclPacket.HeaderLength + AclLength];
        L2capFrame.Write(frame, L2capFrame.AttributeProtocol, attPdu);
        var packets = new List<byte[]>();
        for (int at = 0; at < frame.Length; at += AclLength)
        {
            PacketBoundary boundary = at > 0 ? PacketBoundary.Continuation : fromHost ? PacketBoundary.FirstFromHost : PacketBoundary.First;
            int length = HciAclPacket.Write(packet, handle, boundary, frame.AsSpan(at, Math.Min(AclLength, frame.Length - at)));
            packets.Add(packet[..length]);
        }
        return packets;
    }

    /// <summary>A packet as link type 201 has it: the direction in four octets, then the H4 indicator.</summary>
    internal static byte[] WithDirection(bool sent, bool isEvent, ReadOnlySpan<byte> packet) => [0, 0, 0, (byte)(sent ? 1 : 0), isEvent ? EventIndicator : AclIndicator, .. packet];

    private static void Put(IDisposable file, HostLogForm form, long us, bool isEvent, bool sent, ReadOnlySpan<byte> packet)
    {
        long timeNs = EpochNs + (us * 1000);
        byte indicator = isEvent ? EventIndicator : AclIndicator;
        uint flags = (sent ? 0 : Received) | (isEvent ? ControlPacket : 0);
        byte[] header = new byte[4];
        switch (form)
        {
            case HostLogForm.BtSnoopUnframed:
                ((BtSnoopWriter)file).Write(timeNs, flags, packet);
                break;
            case HostLogForm.BtSnoopH4:
                ((BtSnoopWriter)file).Write(timeNs, flags, (byte[])[indicator, .. packet]);
                break;
            case HostLogForm.PcapH4:
                ((PcapWriter)file).Write(timeNs, (byte[])[indicator, .. packet]);
                break;
            case HostLogForm.PcapH4WithDirection:
                ((PcapWriter)file).Write(timeNs, WithDirection(sent, isEvent, packet));
                break;
            default:
                BinaryPrimitives.WriteUInt16BigEndian(header.AsSpan(2), (ushort)(isEvent ? 3 : sent ? 4 : 5));
                ((PcapWriter)file).Write(timeNs, (byte[])[.. header, .. packet]);
                break;
        }
    }

    private static LinkType TypeOf(HostLogForm form) => form switch
    {
        HostLogForm.PcapH4 => LinkType.HciH4,
        HostLogForm.PcapH4WithDirection => LinkType.HciH4WithDirection,
        _ => LinkType.HostMonitor,
    };
}
