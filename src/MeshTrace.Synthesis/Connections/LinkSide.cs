using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.LogicalLink;

namespace MeshTrace.Synthesis.Connections;

/// <summary>One side of a connection at the link layer: what it has to send, and its sequence numbers (Core Specification, volume 6 part B §4.5.9).</summary>
internal sealed class LinkSide
{
    private const int LongestPayload = 27;      // without data length extension
    private readonly Queue<(LogicalLinkId Llid, byte[] Payload)> _queue = [];
    private (LogicalLinkId Llid, byte[] Payload)? _unacknowledged;
    private bool _sn, _nesn;

    public bool HasMore => _queue.Count > 0 || _unacknowledged is { Payload.Length: > 0 };

    /// <summary>Queues a PDU of the Attribute Protocol in pieces.</summary>
    public void Send(byte[] attPdu)
    {
        byte[] frame = new byte[L2capFrame.HeaderLength + attPdu.Length];
        L2capFrame.Write(frame, L2capFrame.AttributeProtocol, attPdu);
        for (int at = 0; at < frame.Length; at += LongestPayload)
            _queue.Enqueue((at == 0 ? LogicalLinkId.Start : LogicalLinkId.Continuation, frame[at..Math.Min(frame.Length, at + LongestPayload)]));
    }

    public void SendControl(params byte[] payload) => _queue.Enqueue((LogicalLinkId.Control, payload));

    /// <summary>The PDU to send now: the first that is not acknowledged, or an empty one. Returns its length.</summary>
    public int Write(Span<byte> pdu, Func<byte[], byte[]>? encrypt)
    {
        // What was sent last stays to be sent until it is acknowledged, also an empty PDU.
        (LogicalLinkId llid, byte[] payload) = _unacknowledged ??= _queue.TryDequeue(out (LogicalLinkId, byte[]) first) ? first : (LogicalLinkId.Continuation, []);
        if (payload.Length > 0 && encrypt is not null)
            payload = encrypt(payload);
        return DataChannelPdu.Write(pdu, llid, _nesn, _sn, _queue.Count > 0, payload);
    }

    /// <summary>Takes what the other side sent, received with a right CRC.</summary>
    public void Receive(in DataChannelPdu pdu)
    {
        if (pdu.Sn == _nesn)
            _nesn = !_nesn;
        if (pdu.Nesn == _sn)
            return;     // not acknowledged: it is sent again
        _sn = !_sn;
        _unacknowledged = null;
    }
}
