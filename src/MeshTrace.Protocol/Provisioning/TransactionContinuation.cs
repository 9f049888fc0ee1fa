namespace MeshTrace.Protocol.Provisioning;

/// <summary>Transaction Continuation PDU: a further segment of a provisioning PDU (Mesh Protocol 1.1 §5.3).</summary>
/// <remarks>SegmentIndex(6) | GPCF(2)=0b10 | Data.</remarks>
public readonly ref struct TransactionContinuation
{
    public const int HeaderLength = 1;

    /// <summary>Octets of data that a PB-ADV PDU has room for.</summary>
    public const int LongestData = 23;

    private readonly ReadOnlySpan<byte> _pdu;

    private TransactionContinuation(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    /// <summary>1-63; segment 0 stands in the Transaction Start PDU.</summary>
    public byte SegmentIndex => (byte)(_pdu[0] >> GenericProvisioning.FormatBits);

    /// <summary>The segment; not empty.</summary>
    public ReadOnlySpan<byte> Data => _pdu[HeaderLength..];

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> pdu, out TransactionContinuation continuation, out DecodeProblem problem)
    {
        problem = GenericProvisioning.CheckFormat(pdu, GenericProvisioningFormat.TransactionContinuation, HeaderLength + 1, int.MaxValue);
        if (!problem.IsProblem && pdu[0] >> GenericProvisioning.FormatBits == 0)
            problem = DecodeProblem.WrongValue(Layer.Provisioning, 0, nameof(SegmentIndex));
        continuation = problem.IsProblem ? default : new TransactionContinuation(pdu);
        return !problem.IsProblem;
    }

    /// <summary>Writes a PDU and returns the octets written.</summary>
    public static int Write(Span<byte> destination, byte segmentIndex, ReadOnlySpan<byte> data)
    {
        ArgumentOutOfRangeException.ThrowIfZero(segmentIndex);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(segmentIndex, 63);
        destination[0] = GenericProvisioning.FirstOctet(segmentIndex, GenericProvisioningFormat.TransactionContinuation);
        data.CopyTo(destination[HeaderLength..]);
        return HeaderLength + data.Length;
    }
}
