using System.Buffers.Binary;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Files;

/// <summary>
/// Writes some frames of one or several captures as one pcapng file: every receiver as an interface with its name, link type and unit of time, in their
/// order, whether it has frames or not, so that a receiver keeps its number.
/// </summary>
/// <remarks>
/// The octets of a frame stay as they are. Only what BTSnoop tells beside the octets has to go into them: HCI packets become link type 201, those of a host
/// monitor 254.
/// </remarks>
public sealed class ExcerptWriter : IDisposable
{
    private const int DirectionLength = 4, MonitorHeaderLength = 4;

    /// <summary>For private use, by the registry.</summary>
    private static readonly LinkType Private = new(147);

    private const byte Command = 1, Acl = 2, Event = 4;
    private const int MonitorCommand = 2, MonitorEvent = 3, MonitorAclSent = 4, MonitorAclReceived = 5;

    private readonly PcapNgWriter _writer;
    private readonly List<ReceiverDescription> _receivers = [];
    private byte[] _room = new byte[512];

    /// <param name="stream">Written from where it stands; left open.</param>
    /// <param name="receivers">All receivers of the captures, numbered over all of them.</param>
    /// <param name="application">What wrote the file, or null.</param>
    public ExcerptWriter(Stream stream, IReadOnlyList<ReceiverDescription> receivers, string? application = null)
    {
        ArgumentNullException.ThrowIfNull(receivers);
        _writer = new PcapNgWriter(stream, application: application, leaveOpen: true);
        foreach (ReceiverDescription receiver in receivers)
            Add(receiver);
    }

    /// <summary>Adds a receiver that is met later; its number is the next one.</summary>
    public void Add(ReceiverDescription receiver)
    {
        _receivers.Add(receiver);
        _writer.AddInterface(CanWrite(receiver) ? WrittenAs(receiver) : Private, receiver.Interface, receiver.TimeResolutionExponent);
    }

    /// <summary>Tells how many frames a receiver's recorder reports as dropped, where it reports something.</summary>
    /// <param name="receiver">By its number.</param>
    /// <param name="timeNs">When it was counted.</param>
    public void WriteDropped(ReceiverDescription receiver, long timeNs)
    {
        ArgumentNullException.ThrowIfNull(receiver);
        if (receiver.ReportedDropped is { } dropped)
            _writer.WriteStatistics(receiver.Index, timeNs, null, (ulong)dropped);
    }

    /// <summary>False for a text log: its lines are no frames of a link type. It stays an interface, so that the others keep their numbers.</summary>
    public static bool CanWrite(ReceiverDescription receiver) => WrittenAs(receiver).Number <= ushort.MaxValue;

    /// <summary>Frames written.</summary>
    public long Written { get; private set; }

    /// <summary>Frames that pcapng has no form for: lines of a text log; without a time and not of the first interface, or cut; or of a time before 1970.</summary>
    public long Unwritable { get; private set; }

    /// <summary>The link type as which the frames of a receiver are written.</summary>
    public static LinkType WrittenAs(ReceiverDescription receiver)
    {
        ArgumentNullException.ThrowIfNull(receiver);
        return receiver.LinkType == LinkType.HciUnframed || (receiver.LinkType == LinkType.HciH4 && receiver.TellsDirection) ? LinkType.HciH4WithDirection
            : receiver.LinkType == LinkType.HostMonitorUnframed ? LinkType.HostMonitor
            : receiver.LinkType;
    }

    /// <summary>Writes one frame.</summary>
    /// <param name="frame">Its receiver is one of those given at first.</param>
    /// <returns>False if it has no form.</returns>
    public bool Write(in CapturedFrame frame)
    {
        ReadOnlySpan<byte> octets = frame.Octets;
        if (!CanWrite(_receivers[frame.Receiver]))
        {
            Unwritable++;
            return false;
        }
        int original = frame.OriginalLength;
        if (WrittenAs(_receivers[frame.Receiver]) != frame.LinkType)
        {
            octets = Framed(in frame);
            original = (int)Math.Min((long)original + octets.Length - frame.Octets.Length, int.MaxValue);
        }
        bool simple = frame.TimeNs == CapturedFrame.NoTime;
        if ((simple && (frame.Receiver != 0 || original != octets.Length)) || (!simple && frame.TimeNs < 0) || octets.Length > CaptureLimits.LongestUsualFrame)
        {
            Unwritable++;
            return false;
        }
        if (simple)
            _writer.WriteSimple(octets);
        else
            _writer.Write(frame.Receiver, frame.TimeNs, octets, original, frame.MarkedCrcBad);
        Written++;
        return true;
    }

    /// <summary>Flushes; the stream stays open.</summary>
    public void Dispose() => _writer.Dispose();

    /// <summary>The frame with what the file told beside it in front.</summary>
    private ReadOnlySpan<byte> Framed(scoped in CapturedFrame frame)
    {
        int length = frame.Octets.Length + DirectionLength + 1;
        if (_room.Length < length)
            _room = new byte[length * 2];
        if (frame.LinkType == LinkType.HostMonitorUnframed)
        {
            // Link type 254: adapter(16) | opcode(16), most significant octet first.
            BinaryPrimitives.WriteUInt16BigEndian(_room, (ushort)(frame.Receiver & 0xFFFF));
            BinaryPrimitives.WriteUInt16BigEndian(_room.AsSpan(2), (ushort)(frame.Hci switch
            {
                HciKind.Command => MonitorCommand,
                HciKind.Event => MonitorEvent,
                HciKind.AclSent => MonitorAclSent,
                HciKind.AclReceived => MonitorAclReceived,
                _ => ushort.MaxValue,
            }));
            frame.Octets.CopyTo(_room.AsSpan(MonitorHeaderLength));
            return _room.AsSpan(0, MonitorHeaderLength + frame.Octets.Length);
        }
        // Link type 201: direction(32), lowest bit 1 = sent by the host; then H4.
        bool framed = frame.LinkType == LinkType.HciH4;
        byte indicator = framed ? frame.Octets is [var first, ..] ? first : (byte)0 : frame.Hci switch
        {
            HciKind.Command => Command,
            HciKind.Event => Event,
            _ => Acl,
        };
        BinaryPrimitives.WriteUInt32BigEndian(_room, frame.Hci == HciKind.AclSent || indicator == Command ? 1u : 0u);
        int at = DirectionLength;
        if (!framed)
            _room[at++] = indicator;
        frame.Octets.CopyTo(_room.AsSpan(at));
        return _room.AsSpan(0, at + frame.Octets.Length);
    }
}
