namespace MeshTrace.Protocol.Provisioning;

/// <summary>Transaction Acknowledgment PDU: all segments of a transaction have arrived (Mesh Protocol 1.1 §5.3).</summary>
/// <remarks>Padding(6) | GPCF(2)=0b01. Which transaction: the transaction number of the PB-ADV PDU. Padding is written as 0 and ignored on
/// receipt.</remarks>
public readonly ref struct TransactionAcknowledgment
{
    public const int Length = 1;

    public static bool TryRead(ReadOnlySpan<byte> pdu, out TransactionAcknowledgment acknowledgment, out DecodeProblem problem)
    {
        acknowledgment = default;
        problem = GenericProvisioning.CheckFormat(pdu, GenericProvisioningFormat.TransactionAcknowledgment, Length, Length);
        return !problem.IsProblem;
    }

    /// <summary>Writes a PDU and returns the octets written.</summary>
    public static int Write(Span<byte> destination)
    {
        destination[0] = GenericProvisioning.FirstOctet(0, GenericProvisioningFormat.TransactionAcknowledgment);
        return Length;
    }
}
