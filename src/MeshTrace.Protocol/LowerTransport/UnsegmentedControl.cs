namespace MeshTrace.Protocol.LowerTransport;

/// <summary>Unsegmented Control message (Mesh Protocol 1.1 §3.5.2.3).</summary>
/// <remarks>SEG(1)=0 | Opcode(7) | Parameters, 0 to 11 octets. Opcode 0x00 is a <see cref="SegmentAcknowledgment"/>.</remarks>
public readonly ref struct UnsegmentedControl
{
    public const int LongestLength = 12;

    private readonly ReadOnlySpan<byte> _pdu;

    private UnsegmentedControl(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    public byte Opcode => (byte)(_pdu[0] & 0x7F);

    public ReadOnlySpan<byte> Parameters => _pdu[1..];

    /// <summary>
    /// Every check is here; once it has returned true, no property can fail. The acknowledgment is refused: it is no upper transport
    /// message.
    /// </summary>
    public static bool TryRead(ReadOnlySpan<byte> pdu, out UnsegmentedControl message, out DecodeProblem problem)
    {
        message = default;
        problem = DecodeProblem.None;
        if (pdu.IsEmpty)
            problem = DecodeProblem.TooShort(Layer.LowerTransport, 1, 0);
        else if (pdu.Length > LongestLength)
            problem = DecodeProblem.TooLong(Layer.LowerTransport, LongestLength, pdu.Length);
        else if ((pdu[0] & 0x80) != 0)
            problem = DecodeProblem.WrongValue(Layer.LowerTransport, 0, "SEG", 1);
        else if (pdu[0] == 0x00)
            problem = DecodeProblem.WrongValue(Layer.LowerTransport, 0, "Opcode", 0);
        else
            message = new UnsegmentedControl(pdu);
        return !problem.IsProblem;
    }

    /// <summary>Writes the PDU and returns its length.</summary>
    public static int Write(Span<byte> pdu, byte opcode, ReadOnlySpan<byte> parameters)
    {
        ArgumentOutOfRangeException.ThrowIfZero(opcode);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(opcode, 0x7F);
        pdu[0] = opcode;
        parameters.CopyTo(pdu[1..]);
        return 1 + parameters.Length;
    }
}
