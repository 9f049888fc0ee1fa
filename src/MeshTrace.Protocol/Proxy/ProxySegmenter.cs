namespace MeshTrace.Protocol.Proxy;

/// <summary>Writes a message as Proxy PDUs, one after the other, as long as the ATT_MTU lets them be (Mesh Protocol 1.1 §6.3).</summary>
public ref struct ProxySegmenter
{
    /// <summary>ATT opcode and handle (3 octets), SAR and message type (1 octet).</summary>
    private const int Overhead = 4;

    private readonly ProxyMessageType _messageType;
    private readonly int _segmentLength;
    private ReadOnlySpan<byte> _rest;
    private bool _started;

    /// <param name="attMtu">ATT_MTU of the connection: at least 23.</param>
    /// <exception cref="ArgumentException">The message is empty, or the ATT_MTU less than Bluetooth allows.</exception>
    public ProxySegmenter(ProxyMessageType messageType, ReadOnlySpan<byte> message, int attMtu)
    {
        ArgumentOutOfRangeException.ThrowIfLessThan(attMtu, 23);
        if (message.IsEmpty)
            throw new ArgumentException("A message has at least one octet.", nameof(message));
        _messageType = messageType;
        _segmentLength = attMtu - Overhead;
        _rest = message;
    }

    /// <summary>Writes the next Proxy PDU (at most ATT_MTU - 3 octets); false when all are written.</summary>
    public bool TryWriteNext(Span<byte> pdu, out int length)
    {
        length = 0;
        if (_rest.IsEmpty)
            return false;
        bool last = _rest.Length <= _segmentLength;
        Sar sar = (_started, last) switch
        {
            (false, true) => Sar.Complete,
            (false, false) => Sar.First,
            (true, false) => Sar.Continuation,
            (true, true) => Sar.Last,
        };
        ReadOnlySpan<byte> segment = last ? _rest : _rest[.._segmentLength];
        length = ProxyPdu.Write(pdu, sar, _messageType, segment);
        _rest = _rest[segment.Length..];
        _started = true;
        return true;
    }
}
