using MeshTrace.Protocol;
using MeshTrace.Protocol.LowerTransport;
using MeshTrace.Protocol.UpperTransport;
using MeshTrace.Synthesis.Nodes.Friendship;
using MeshTrace.Synthesis.Truth;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>Lower and upper transport (Mesh Protocol 1.1 §3.5, §3.6): encryption, segments, acknowledgments, replay protection.</summary>
internal sealed partial class MeshNode
{
    /// <summary>Longest access payload of an unsegmented message: 15 octets with the 32-bit TransMIC (§3.5.2.1).</summary>
    internal const int LongestUnsegmentedPayload = 11;

    private readonly Dictionary<ushort, SegmentSender> _sending = [];
    private readonly Dictionary<(ushort Src, uint Seq), SegmentReceiver> _reassembling = [];

    /// <summary>Messages whose incomplete timer ran out: further segments of them are ignored.</summary>
    private readonly HashSet<(ushort Src, uint Seq)> _timedOut = [];

    /// <summary>Encrypts and sends an access message. Null: nothing left this node. The flood is the first one of a segmented
    /// message.</summary>
    internal FloodTruth? Send(AccessMessage message)
    {
        if (!Station.On || _outside || message.Ttl == 1)
            return null;
        message.Key = _keys.Sending(message.Key);
        if (message.Acknowledged || message.Payload.Length > LongestUnsegmentedPayload)
            _lowPower?.PollSoon();
        if (message.Payload.Length > LongestUnsegmentedPayload || message.LongMic)
            return SendSegmented(message);
        uint seq = NextSequence(message.Src);
        (message.Seq, message.IvIndex) = (seq, TransmitIvIndex);
        Span<byte> upper = stackalloc byte[15];
        int length = UpperTransport.Encrypt(message.Payload, message.Key.Key, message.Key.DeviceKeyOf is not null, false, seq, message.Src,
            message.Dst, TransmitIvIndex, _world.LabelOf(message.Dst), upper);
        byte[] transport = new byte[length + 1];
        UnsegmentedAccess.Write(transport, message.Key.AppKeyIndex is not null, message.Key.Aid, upper[..length]);
        var pdu = MakePdu(message.Subnet, false, seq, message.Src, message.Dst, transport, message.Ttl, new WholeContent(message),
            message.Name, message.Press, null, null);
        Originate(pdu, message.Ttl);
        return pdu.Truth;
    }

    /// <summary>One segmented message at a time to one destination (§3.5.3.3): later ones wait.</summary>
    private FloodTruth? SendSegmented(AccessMessage message)
    {
        if (_sending.TryGetValue(message.Dst.Value, out var busy) && !busy.Finished)
        {
            busy.WhenFinished += () => SendSegmented(message);
            return null;
        }
        var sender = new SegmentSender(this, _world, message);
        _sending[message.Dst.Value] = sender;
        return sender.Start();
    }

    /// <summary>The upper transport PDU of a message whose first segment will have <paramref name="seq"/>.</summary>
    internal byte[] EncryptUpper(AccessMessage message, uint seq)
    {
        byte[] upper = new byte[message.Payload.Length + (message.LongMic ? 8 : 4)];
        UpperTransport.Encrypt(message.Payload, message.Key.Key, message.Key.DeviceKeyOf is not null, message.LongMic, seq, message.Src,
            message.Dst, message.IvIndex, _world.LabelOf(message.Dst), upper);
        return upper;
    }

    /// <summary>Sends one segment with a SEQ of its own.</summary>
    internal FloodTruth SendSegment(AccessMessage message, byte[] upper, int segO, int segN, TransferTruth truth)
    {
        uint seq = NextSequence(message.Src);
        Span<byte> transport = stackalloc byte[16];
        int from = segO * SegmentedAccess.SegmentLength;
        int length = SegmentedAccess.Write(transport, message.Key.AppKeyIndex is not null, message.Key.Aid, message.LongMic,
            (ushort)(message.Seq & 0x1FFF),
            (byte)segO, (byte)segN, upper.AsSpan(from, Math.Min(SegmentedAccess.SegmentLength, upper.Length - from)));
        var pdu = MakePdu(message.Subnet, false, seq, message.Src, message.Dst, transport[..length].ToArray(), message.Ttl,
            new SegmentContent(message, segO, segN, truth), message.Name, message.Press, truth, segO);
        Originate(pdu, message.Ttl);
        truth.Sent.Add(pdu.Truth);
        return pdu.Truth;
    }

    internal (uint Seq, uint IvIndex) FirstOf(MeshAddress src) => (PeekSequence(src), TransmitIvIndex);

    /// <summary>Sends a Segment Acknowledgment from the element that is addressed.</summary>
    internal void Acknowledge(SegmentContent of, uint block)
    {
        var message = of.Message;
        byte[] transport = new byte[SegmentAcknowledgment.Length];
        SegmentAcknowledgment.Write(transport, false, (ushort)(message.Seq & 0x1FFF), block);
        byte ttl = message.Ttl == 0 ? (byte)0 : (byte)Plan.DefaultTtl;
        uint seq = NextSequence(message.Dst);
        var pdu = MakePdu(message.Subnet, true, seq, message.Dst, message.Src, transport, ttl, new AckContent(message.Dst, message.Seq, block),
            "Segment Acknowledgment", null, of.Truth, null);
        if (Originate(pdu, ttl))
            of.Truth.Acks.Add((pdu.Truth, message.Dst, block));
    }

    private MeshPdu MakePdu(SubnetKeys subnet, bool ctl, uint seq, MeshAddress src, MeshAddress dst, byte[] transport, byte ttl,
        LowerContent content,
        string what, PressTruth? press, TransferTruth? transfer, int? segO, FriendshipBond? bond = null) => new()
        {
            Subnet = _keys.Sending(subnet.Index), IvIndex = TransmitIvIndex, Ctl = ctl, Seq = seq, Src = src, Dst = dst, TransportPdu = transport, Content = content, Bond = bond,
            Truth = _world.Truth.Flood(TransmitIvIndex, src, dst, seq, ctl, ttl, what, subnet.Index, press, transfer, segO),
        };

    /// <summary>A PDU that the network layer passed up.</summary>
    private void Deliver(MeshPdu pdu, byte ttl)
    {
        if (!Station.On)
            return;
        if (!Addressed(pdu.Dst))
        {
            PressOf(pdu)?.Note(Unicast, Reach.NotSubscribed);
            return;
        }
        switch (pdu.Content)
        {
            case WholeContent whole:
                if (Fresh(pdu, pdu.Seq, whole.Message))
                {
                    _replay.Accept(pdu.Src, pdu.IvIndex, pdu.Seq);
                    Take(whole.Message);
                }
                break;
            case SegmentContent segment:
                TakeSegment(pdu, segment);
                break;
            case FriendshipContent friendship:
                TakeFriendship(pdu, friendship);
                break;
            case AckContent ack when _sending.TryGetValue(ack.For.Value, out var sender):
                _replay.Accept(pdu.Src, pdu.IvIndex, pdu.Seq);
                sender.Acknowledged(ack.SeqAuth, ack.Block);
                break;
        }
    }

    private void TakeSegment(MeshPdu pdu, SegmentContent segment)
    {
        var key = (pdu.Src.Value, segment.Message.Seq);
        if (Plan.Habits.SegmentsLost.Exists(loss =>
            Now >= loss.FromUs && Now < loss.UntilUs && (loss.Segment ?? segment.SegO) == segment.SegO) || _timedOut.Contains(key))
        {
            return;
        }
        if (!_reassembling.TryGetValue(key, out var receiver))
        {
            if (!Fresh(pdu, segment.Message.Seq, segment.Message))
                return;
            if (Plan.RefusesTransfers && pdu.Dst.IsUnicast && pdu.Bond is null)
            {
                Acknowledge(segment, 0);
                return;
            }
            receiver = new SegmentReceiver(this, _world, segment, isWhole =>
            {
                _reassembling.Remove(key);
                if (!isWhole)
                    _timedOut.Add(key);
            }, acknowledges: pdu.Bond is null);
            _reassembling.Add(key, receiver);
        }
        receiver.Take(segment);
    }

    /// <summary>All segments are there.</summary>
    internal void Reassembled(AccessMessage message)
    {
        _replay.Accept(message.Src, message.IvIndex, message.Seq);
        Take(message);
    }

    private bool Fresh(MeshPdu pdu, uint seq, AccessMessage message)
    {
        if (Owns(pdu.Src))
            return true;   // its own message to a group it subscribes to
        var verdict = _replay.Check(pdu.Src, pdu.IvIndex, seq);
        if (verdict != ReplayVerdict.Fresh && message is { Press: { } press, IsAnswer: false })
            press.Note(Unicast, verdict == ReplayVerdict.Full ? Reach.ReplayListFull : Reach.Replay);
        return verdict == ReplayVerdict.Fresh;
    }
}
