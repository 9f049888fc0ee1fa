namespace MeshTrace.Protocol.Provisioning;

/// <summary>Provisioning Data: network key and address for the device, encrypted (Mesh Protocol 1.1 §5.4.1.8).</summary>
/// <remarks>Type(8)=0x07 | EncryptedProvisioningData(25 octets) | ProvisioningDataMIC(8 octets). The plain data: <see
/// cref="PlainProvisioningData"/>.</remarks>
public readonly ref struct ProvisioningData
{
    public const int Length = 34;
    public const int MicLength = 8;
    private readonly ReadOnlySpan<byte> _pdu;

    private ProvisioningData(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    public ReadOnlySpan<byte> EncryptedProvisioningData => _pdu.Slice(1, PlainProvisioningData.Length);
    public ReadOnlySpan<byte> Mic => _pdu[(1 + PlainProvisioningData.Length)..];

    /// <summary>Both, as CCM takes them.</summary>
    public ReadOnlySpan<byte> EncryptedDataAndMic => _pdu[1..];

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out ProvisioningData pdu, out DecodeProblem problem)
    {
        bool good = ProvisioningPdu.TryRead(octets, ProvisioningPduType.Data, out problem);
        pdu = good ? new ProvisioningData(octets) : default;
        return good;
    }

    /// <summary>Writes a PDU and returns the octets written.</summary>
    public static int Write(Span<byte> destination, ReadOnlySpan<byte> encryptedDataAndMic)
    {
        ArgumentOutOfRangeException.ThrowIfNotEqual(encryptedDataAndMic.Length, Length - 1, nameof(encryptedDataAndMic));
        return ProvisioningPdu.Write(destination, ProvisioningPduType.Data, encryptedDataAndMic);
    }
}
