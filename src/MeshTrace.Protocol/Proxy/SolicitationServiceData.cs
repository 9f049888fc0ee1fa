namespace MeshTrace.Protocol.Proxy;

/// <summary>Service Data of the Mesh Proxy Solicitation Service 0x1859, behind the UUID (Mesh Protocol 1.1 §6.9.1).</summary>
/// <remarks>
/// IdentificationType(8)=0x00 | Solicitation PDU: a Network PDU with IVI 0, CTL 1, TTL 0, SSEQ, SSRC, DST and no TransportPDU.
/// <see cref="Network.NetworkSecurity.TryDecryptSolicitation"/> opens it; SSEQ and SSRC then stand where SEQ and SRC do.
/// </remarks>
public readonly ref struct SolicitationServiceData
{
    /// <summary>Octets of the Solicitation PDU: header 7, DST 2, NetMIC 8.</summary>
    public const int SolicitationPduLength = 17;

    public const int Length = 1 + SolicitationPduLength;

    private SolicitationServiceData(ReadOnlySpan<byte> data) => SolicitationPdu = data[1..];

    /// <summary>The PDU as on the air, obfuscated and encrypted.</summary>
    public ReadOnlySpan<byte> SolicitationPdu { get; }

    public byte Nid => (byte)(SolicitationPdu[0] & 0x7F);

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> serviceData, out SolicitationServiceData data, out DecodeProblem problem)
    {
        data = default;
        problem = DecodeProblem.None;
        if (serviceData.Length != Length)
            problem = DecodeProblem.WrongLength(Layer.Proxy, Length, serviceData.Length);
        else if (serviceData[0] != 0x00)
            problem = DecodeProblem.WrongValue(Layer.Proxy, 0, "IdentificationType", serviceData[0]);
        else
            data = new SolicitationServiceData(serviceData);
        return !problem.IsProblem;
    }

    /// <summary>Writes the service data around a Solicitation PDU of 17 octets and returns its length.</summary>
    public static int Write(Span<byte> serviceData, ReadOnlySpan<byte> solicitationPdu)
    {
        serviceData[0] = 0x00;
        solicitationPdu[..SolicitationPduLength].CopyTo(serviceData[1..]);
        return Length;
    }
}
