using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.LogicalLink;

namespace MeshTrace.Analysis.Connections;

/// <summary>Sorts packets of connections: by handle in host logs, by access address from the air, each receiver for itself.</summary>
internal sealed class ConnectionIntake(CaptureHistory history, KeyRing keys)
{
    /// <summary>Protects memory against captures full of invented connections: each costs a few kilobytes while it is read.</summary>
    public const int MostConnections = 10_000;

    /// <summary>Access addresses of which one packet was heard, and nothing told of a connection: most are noise.</summary>
    private const int MostCandidates = 4096;

    private readonly MeshMessageSink _sink = new(history);
    private readonly Dictionary<(int Receiver, uint Key, bool OnAir), ConnectionState> _open = [];
    private readonly Dictionary<(int Receiver, uint AccessAddress), uint> _candidates = [];

    private readonly Dictionary<ulong, Guid> _devices = [];
    private readonly HostDirections _directions = new();

    /// <summary>An advertiser told its device UUID (service data of the Mesh Provisioning Service).</summary>
    public void NoteDevice(ulong advertiser, Guid uuid)
    {
        if (_devices.Count < MostConnections || _devices.ContainsKey(advertiser))
            _devices[advertiser] = uuid;
    }

    /// <summary>Device UUID of the peripheral of a connection, or null.</summary>
    public Guid? DeviceOf(int connection) =>
        connection >= 0 && history.ConnectionList[connection].Peripheral is { } address && _devices.TryGetValue(address, out Guid uuid) ? uuid : null;

    /// <summary>Takes what a frame tells of a connection, and notes in the frame's row what it carries.</summary>
    public void Take(in CapturedFrame frame, in Advertisement advertisement, ref FrameRow row)
    {
        if (!ConnectionReader.TryRead(in frame, in advertisement, out ConnectionPacket packet, _directions.IsReversed(in frame)))
            return;
        _sink.Begin(in row);
        ConnectionState? state = packet.Kind switch
        {
            ConnectionPacketKind.ConnectInd => TakeConnectInd(in frame, in packet),
            ConnectionPacketKind.DataChannel => TakeDataChannel(in frame, in packet, ref row),
            ConnectionPacketKind.Acl => TakeAcl(in frame, in packet),
            _ => TakeEvent(in frame, packet.Octets),
        };
        CrcState crc = row.Crc;
        row = _sink.End();
        if (packet.Kind == ConnectionPacketKind.DataChannel)
            row.SetCrc(crc);
        if (state is not null)
            row.SetConnection(state.Row);
    }

    private ConnectionState? TakeConnectInd(in CapturedFrame frame, in ConnectionPacket packet)
    {
        if (!AdvertisingPdu.TryRead(packet.Octets, out AdvertisingPdu pdu, out _) || !ConnectIndData.TryRead(pdu.LlData, out ConnectIndData data, out _))
            return null;
        ConnectionState? state = Add(frame.Receiver, data.AccessAddress, onAir: true);
        if (state is null)
            return null;
        ConnectionRecord record = state.Record;
        (record.Central, record.CentralIsRandom, record.Peripheral, record.PeripheralIsRandom) = (pdu.SenderAddress, pdu.TxAdd, pdu.TargetAddress, pdu.RxAdd);
        record.BeginHeard = true;
        state.CrcInit = data.CrcInit;
        state.SetInterval(data.Interval);
        state.Note(frame.TimeNs);
        return state;
    }

    private ConnectionState? TakeDataChannel(in CapturedFrame frame, in ConnectionPacket packet, ref FrameRow row)
    {
        (int Receiver, uint Key, bool OnAir) key = (frame.Receiver, packet.AccessAddress, true);
        bool isPdu = DataChannelPdu.TryRead(packet.Octets, out DataChannelPdu pdu, out _);
        if (!_open.TryGetValue(key, out ConnectionState? state))
        {
            if (packet.Problem != LinkProblem.None || !isPdu || !IsSecondOf(in packet, frame.Receiver, out uint crcInit) || (state = Add(frame.Receiver, packet.AccessAddress, onAir: true)) is null)
                return null;
            state.CrcInit = crcInit;
        }
        ConnectionCounts counts = state.Record.Counts;
        counts.Packets++;
        state.Note(frame.TimeNs);
        CrcCheck crc = packet.Crc;
        // The octets decide where CRCInit is known, save for radios that strip the CRC after checking it and leave zeros.
        if (isPdu && crc != CrcCheck.Bad && state.CrcInit is { } initial && !(crc == CrcCheck.Ok && packet.CrcOctets == 0))
            crc = Crc24.Compute(packet.Octets, initial) == packet.CrcOctets ? CrcCheck.Ok : CrcCheck.Bad;
        row.SetCrc((CrcState)crc);
        if (crc == CrcCheck.Bad)
        {
            counts.BadCrc++;
            state.Flow.IsLossy = true;
            row.ProblemField = FrameProblem.BadCrc;
            _sink.Begin(in row);
        }
        else if (packet.Problem != LinkProblem.None || !isPdu)
            counts.FramesLost++;
        else
        {
            (_sink.Record, _sink.Connection) = (state.Record, state.Row);
            state.TakeDataChannel((int)packet.Side - 1, in pdu, packet.IsDecrypted, history.Frames.Count, frame.TimeNs);
        }
        return state;
    }

    /// <summary>
    /// Begins a connection of which the beginning was missed at its second packet: of arbitrary access addresses in the noise no two come with a right CRC.
    /// </summary>
    private bool IsSecondOf(in ConnectionPacket packet, int receiver, out uint crcInit)
    {
        crcInit = Crc24.InitialOf(packet.Octets, packet.CrcOctets);
        (int, uint) key = (receiver, packet.AccessAddress);
        if (_candidates.TryGetValue(key, out uint first) && (first == crcInit || (packet.Crc == CrcCheck.Ok && packet.CrcOctets == 0)))
        {
            _candidates.Remove(key);
            return true;
        }
        if (_candidates.Count >= MostCandidates)
            _candidates.Clear();
        _candidates[key] = crcInit;
        return false;
    }

    private ConnectionState? TakeAcl(in CapturedFrame frame, in ConnectionPacket packet)
    {
        if (!HciAclPacket.TryRead(packet.Octets, out HciAclPacket acl, out _))
        {
            if (packet.Octets.Length >= 2 && _open.TryGetValue((frame.Receiver, (uint)(packet.Octets[0] | (packet.Octets[1] << 8)) & 0xFFF, false), out ConnectionState? cut))
            {
                cut.Gap(Math.Max((int)packet.Side - 1, 0));
                return cut;
            }
            return null;
        }
        bool starts = acl.Boundary != PacketBoundary.Continuation;
        if (!_open.TryGetValue((frame.Receiver, acl.Handle, false), out ConnectionState? state))
        {
            // Begun before the log: taken up at its first frame of the Attribute Protocol, so that other kinds of connections do not show.
            if (!starts || acl.Data.Length < L2capFrame.HeaderLength || (acl.Data[2] | (acl.Data[3] << 8)) != L2capFrame.AttributeProtocol
                || (state = Add(frame.Receiver, acl.Handle, onAir: false)) is null)
                return null;
        }
        state.Record.Counts.Packets++;
        state.Note(frame.TimeNs);
        (_sink.Record, _sink.Connection) = (state.Record, state.Row);
        state.TakePiece((int)packet.Side - 1, starts, acl.Data, history.Frames.Count, frame.TimeNs);
        return state;
    }

    private ConnectionState? TakeEvent(in CapturedFrame frame, ReadOnlySpan<byte> octets)
    {
        if (!HciLeEvent.TryRead(octets, out HciLeEvent happened, out _) || happened.Status != 0)
            return null;
        if (happened.Change == HciConnectionChange.Connected)
        {
            ConnectionState? begun = Add(frame.Receiver, happened.Handle, onAir: false);
            if (begun is null)
                return null;
            ConnectionRecord record = begun.Record;
            record.BeginHeard = true;
            record.HostIsCentral = happened.IsCentral;
            if (happened.IsCentral)
                (record.Peripheral, record.PeripheralIsRandom) = (happened.PeerAddress, happened.PeerIsRandom);
            else
                (record.Central, record.CentralIsRandom) = (happened.PeerAddress, happened.PeerIsRandom);
            begun.Note(frame.TimeNs);
            return begun;
        }
        (int, uint, bool) key = (frame.Receiver, happened.Handle, false);
        if (!_open.TryGetValue(key, out ConnectionState? state))
            return null;
        state.Note(frame.TimeNs);
        if (happened.Change == HciConnectionChange.EncryptionChanged)
            state.Record.Encryption = happened.IsEncrypted ? LinkEncryption.Encrypted : state.Record.Encryption;
        else
        {
            state.Record.EndReason = happened.Reason;
            _open.Remove(key);
        }
        return state;
    }

    /// <summary>A new connection in place of one of the same handle or access address, which has ended unheard.</summary>
    private ConnectionState? Add(int receiver, uint key, bool onAir)
    {
        if (history.ConnectionList.Count >= MostConnections)
            return null;
        var record = new ConnectionRecord
        {
            Receiver = receiver, Handle = onAir ? null : (ushort)key, AccessAddress = onAir ? key : null, FirstTimeNs = CapturedFrame.NoTime, LastTimeNs = CapturedFrame.NoTime,
        };
        var state = new ConnectionState(record, history.ConnectionList.Count, keys, _sink);
        history.ConnectionList.Add(record);
        _open[(receiver, key, onAir)] = state;
        return state;
    }
}
