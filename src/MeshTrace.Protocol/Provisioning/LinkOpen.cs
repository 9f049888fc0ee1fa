namespace MeshTrace.Protocol.Provisioning;

/// <summary>Link Open: the provisioner opens a link to an unprovisioned device (Mesh Protocol 1.1 §5.3).</summary>
/// <remarks>BearerOpcode(6)=0x00 | GPCF(2)=0b11 | DeviceUUID(16 octets, as sent).</remarks>
public readonly ref struct LinkOpen
{
    public const int Length = 17;
    private readonly ReadOnlySpan<byte> _pdu;

    private LinkOpen(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    /// <summary>The device meant, as it announces itself in its unprovisioned device beacon.</summary>
    public Guid DeviceUuid => new(_pdu[1..], bigEndian: true);

    /// <summary>The same as 16 octets in the order sent.</summary>
    public ReadOnlySpan<byte> DeviceUuidOctets => _pdu[1..];

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> pdu, out LinkOpen open, out DecodeProblem problem)
    {
        problem = GenericProvisioning.CheckBearerControl(pdu, BearerOpcode.LinkOpen, Length);
        open = problem.IsProblem ? default : new LinkOpen(pdu);
        return !problem.IsProblem;
    }

    /// <summary>Writes a PDU and returns the octets written.</summary>
    public static int Write(Span<byte> destination, Guid deviceUuid)
    {
        destination[0] = GenericProvisioning.FirstOctet((int)BearerOpcode.LinkOpen, GenericProvisioningFormat.ProvisioningBearerControl);
        deviceUuid.TryWriteBytes(destination[1..Length], bigEndian: true, out _);
        return Length;
    }
}
