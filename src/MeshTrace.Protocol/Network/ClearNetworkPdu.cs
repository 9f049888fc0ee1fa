using System.Buffers.Binary;

namespace MeshTrace.Protocol.Network;

/// <summary>A Network PDU after deobfuscation and decryption, its NetMIC cut off (Mesh Protocol 1.1 §3.4.4).</summary>
/// <remarks>IVI(1) | NID(7) | CTL(1) | TTL(7) | SEQ(24) | SRC(16) | DST(16) | TransportPDU; big-endian throughout.</remarks>
public readonly ref struct ClearNetworkPdu
{
    /// <summary>Octets in front of the TransportPDU.</summary>
    public const int HeaderLength = 9;

    private ClearNetworkPdu(ReadOnlySpan<byte> octets) => Octets = octets;

    /// <summary>The whole clear PDU.</summary>
    public ReadOnlySpan<byte> Octets { get; }

    /// <summary>The least significant bit of the IV index.</summary>
    public bool Ivi => (Octets[0] & 0x80) != 0;

    public byte Nid => (byte)(Octets[0] & 0x7F);

    /// <summary>True for a control message and a 64-bit NetMIC, false for an access message and a 32-bit NetMIC.</summary>
    public bool Ctl => (Octets[1] & 0x80) != 0;

    /// <summary>Time to live, 0-127: 0 was not and will not be relayed, 1 will not be relayed.</summary>
    public byte Ttl => (byte)(Octets[1] & 0x7F);

    /// <summary>The 24-bit sequence number of the source element.</summary>
    public uint Seq => BinaryPrimitives.ReadUInt32BigEndian(Octets[1..]) & 0xFFFFFF;

    public MeshAddress Src => new(BinaryPrimitives.ReadUInt16BigEndian(Octets[5..]));

    public MeshAddress Dst => new(BinaryPrimitives.ReadUInt16BigEndian(Octets[7..]));

    /// <summary>The Lower Transport PDU. Empty in a Solicitation PDU.</summary>
    public ReadOnlySpan<byte> TransportPdu => Octets[HeaderLength..];

    /// <summary>
    /// Every check is here; once it has returned true, no property can fail. What the addresses may be is for the caller to judge.
    /// </summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out ClearNetworkPdu pdu, out DecodeProblem problem)
    {
        pdu = default;
        problem = DecodeProblem.None;
        if (octets.Length < HeaderLength)
            problem = DecodeProblem.TooShort(Layer.Network, HeaderLength, octets.Length);
        else if (octets.Length > NetworkSecurity.LongestClearPdu)
            problem = DecodeProblem.TooLong(Layer.Network, NetworkSecurity.LongestClearPdu, octets.Length);
        else
            pdu = new ClearNetworkPdu(octets);
        return !problem.IsProblem;
    }
}
