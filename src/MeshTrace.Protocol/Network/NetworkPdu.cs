namespace MeshTrace.Protocol.Network;

/// <summary>A Network PDU as it is on the air, obfuscated and encrypted (Mesh Protocol 1.1 §3.4.4).</summary>
/// <remarks>IVI(1) | NID(7) | obfuscated CTL, TTL, SEQ, SRC (48) | encrypted DST and TransportPDU | NetMIC (32 or 64).</remarks>
public readonly ref struct NetworkPdu
{
    /// <summary>The shortest one carries one octet of TransportPDU and a 32-bit NetMIC.</summary>
    public const int ShortestLength = 14;

    private NetworkPdu(ReadOnlySpan<byte> octets) => Octets = octets;

    /// <summary>The whole PDU.</summary>
    public ReadOnlySpan<byte> Octets { get; }

    /// <summary>The least significant bit of the IV index that the PDU was made with.</summary>
    public bool Ivi => (Octets[0] & 0x80) != 0;

    /// <summary>Which network security material the PDU may have been made with.</summary>
    public byte Nid => (byte)(Octets[0] & 0x7F);

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out NetworkPdu pdu, out DecodeProblem problem)
    {
        pdu = default;
        problem = DecodeProblem.None;
        if (octets.Length < ShortestLength)
            problem = DecodeProblem.TooShort(Layer.Network, ShortestLength, octets.Length);
        else if (octets.Length > NetworkSecurity.LongestPdu)
            problem = DecodeProblem.TooLong(Layer.Network, NetworkSecurity.LongestPdu, octets.Length);
        else
            pdu = new NetworkPdu(octets);
        return !problem.IsProblem;
    }
}
