using System.Buffers.Binary;
using MeshTrace.Protocol.Link;
using static MeshTrace.Captures.Files.BtSnoopFormat;

namespace MeshTrace.Captures.Files;

/// <summary>Reads BTSnoop files of the datalinks 1001, 1002 and 2001 (layout: <see cref="BtSnoopFormat"/>).</summary>
/// <remarks>
/// Of datalink 2001 each adapter is a receiver of its own, known once its first record is met. A count of drops is reported only once it
/// is not zero, because most recorders leave the field zero without counting.
/// </remarks>
internal sealed class BtSnoopSource : CaptureFileSource
{
    /// <summary>First octet of ACL data with H4.</summary>
    private const byte AclIndicator = 0x02;
    private const int MicrosecondsExponent = 6;

    private readonly bool _monitor;
    private readonly bool _unframed;
    private readonly LinkType _linkType;
    private readonly Dictionary<int, int> _receiverOfAdapter = [];
    private int _lastAdapter = -1;
    private int _lastReceiver;

    private BtSnoopSource(OctetWindow input, string file, int firstReceiver, uint datalink)
        : base(input, file, firstReceiver)
    {
        _monitor = datalink == HostMonitor;
        _unframed = datalink == HciUnframed;
        _linkType = datalink switch
        {
            HciUnframed => LinkType.HciUnframed,
            HciH4 => LinkType.HciH4,
            _ => LinkType.HostMonitorUnframed,
        };
        if (!_monitor)
            AddReceiver(null, _linkType, MicrosecondsExponent, tellsDirection: true);
        input.Advance(FileHeaderLength);
    }

    protected override long FirstRecord => FileHeaderLength;

    /// <summary>Takes the file header off; the input stands at it and is known to begin with the magic.</summary>
    /// <exception cref="CaptureFormatException">The header is cut, of another version, or of a datalink that is not read.</exception>
    public static BtSnoopSource Open(OctetWindow input, string file, int firstReceiver)
    {
        if (!input.Fill(FileHeaderLength))
            throw CaptureRefusal.HeaderCut(file, "BTSnoop", FileHeaderLength, input);
        uint version = BinaryPrimitives.ReadUInt32BigEndian(input.Available[8..]);
        uint datalink = BinaryPrimitives.ReadUInt32BigEndian(input.Available[12..]);
        if (version != SupportedVersion)
            throw CaptureRefusal.Version(file, "BTSnoop", 8, version, "1");
        if (datalink is not (HciUnframed or HciH4 or HostMonitor))
            throw CaptureRefusal.Datalink(file, datalink);
        return new BtSnoopSource(input, file, firstReceiver, datalink);
    }

    public override bool TryReadNext(out CapturedFrame frame)
    {
        frame = default;
        if (!Input.Fill(RecordHeaderLength))
            return EndOrCut("a record header", RecordHeaderLength);
        ReadOnlySpan<byte> record = Input.Available;
        uint original = BinaryPrimitives.ReadUInt32BigEndian(record);
        uint included = BinaryPrimitives.ReadUInt32BigEndian(record[4..]);
        uint flags = BinaryPrimitives.ReadUInt32BigEndian(record[8..]);
        uint drops = BinaryPrimitives.ReadUInt32BigEndian(record[12..]);
        long time = BinaryPrimitives.ReadInt64BigEndian(record[16..]);
        long offset = Input.Position;
        if (included > CaptureLimits.LongestUsualFrame)
        {
            return Stop(offset, FormattableString.Invariant(
                $"the included length {included} is longer than any frame ({CaptureLimits.LongestUsualFrame}): this is no record header"));
        }

        if ((original | included | flags | drops) == 0 && time == 0)
            return Stop(offset, "zeros stand where a record header should be: the recorder did not finish the file");
        int receiver = _monitor ? ReceiverOf((int)(flags >> 16)) : FirstReceiver;
        if (receiver < 0)
            return Stop(offset, FormattableString.Invariant($"more than {CaptureLimits.MostReceivers} adapters: they are not read"));
        if (drops != 0)
            ReceiverAt(receiver).ReportedDropped = drops;

        int length = RecordHeaderLength + (int)included;
        bool whole = Input.Fill(length);
        record = Input.Available;
        int have = whole ? length : record.Length;
        frame = new CapturedFrame
        {
            Receiver = receiver,
            LinkType = _linkType,
            TimeNs = ToNs(time),
            OriginalLength = (int)Math.Min(Math.Max(original, included), int.MaxValue),
            FileOffset = offset,
            Octets = record[RecordHeaderLength..have],
            Hci = _monitor ? KindOfOpcode((ushort)(flags & 0xFFFF)) : _unframed ? KindOfFlags(flags) : DirectionOfAcl(record[RecordHeaderLength..have], flags),
        };
        Input.Advance(have);
        if (!whole)
            Cut(offset, "a record", length, have);
        return true;
    }

    private static long ToNs(long time)
    {
        Int128 ns = ((Int128)time - UnixEpoch) * 1000;
        return ns > long.MinValue && ns <= long.MaxValue ? (long)ns : CapturedFrame.NoTime;
    }

    private static HciKind KindOfFlags(uint flags) => (flags & (ReceivedFlag | ControlFlag)) switch
    {
        0 => HciKind.AclSent,
        ReceivedFlag => HciKind.AclReceived,
        ControlFlag => HciKind.Command,
        _ => HciKind.Event,
    };

    /// <summary>With H4 the indicator tells the kind; of ACL data the flags tell the direction.</summary>
    private static HciKind DirectionOfAcl(ReadOnlySpan<byte> octets, uint flags) =>
        octets is not [AclIndicator, ..] ? HciKind.Unknown : (flags & ReceivedFlag) == 0 ? HciKind.AclSent : HciKind.AclReceived;

    /// <summary>Opcodes as in link type 254.</summary>
    private static HciKind KindOfOpcode(ushort opcode) => opcode switch
    {
        2 => HciKind.Command,
        3 => HciKind.Event,
        4 => HciKind.AclSent,
        5 => HciKind.AclReceived,
        _ => HciKind.Other,
    };

    /// <summary>Number of the adapter's receiver, or -1 if there are too many.</summary>
    private int ReceiverOf(int adapter)
    {
        if (adapter == _lastAdapter)
            return _lastReceiver;
        if (!_receiverOfAdapter.TryGetValue(adapter, out int receiver))
        {
            if (ReceiverCount >= CaptureLimits.MostReceivers)
                return -1;
            receiver = AddReceiver(adapter == NoAdapter ? null : FormattableString.Invariant($"adapter {adapter}"), _linkType, MicrosecondsExponent, tellsDirection: true).Index;
            _receiverOfAdapter.Add(adapter, receiver);
        }

        _lastAdapter = adapter;
        _lastReceiver = receiver;
        return receiver;
    }
}
