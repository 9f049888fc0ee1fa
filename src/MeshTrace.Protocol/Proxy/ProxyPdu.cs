namespace MeshTrace.Protocol.Proxy;

/// <summary>What part of a message a Proxy PDU carries (Mesh Protocol 1.1 §6.3.1).</summary>
public enum Sar : byte
{
    Complete = 0,
    First = 1,
    Continuation = 2,
    Last = 3,
}

/// <summary>What a Proxy PDU carries (Mesh Protocol 1.1 §6.3.1). Other values are reserved.</summary>
public enum ProxyMessageType : byte
{
    NetworkPdu = 0x00,
    MeshBeacon = 0x01,
    ProxyConfiguration = 0x02,
    ProvisioningPdu = 0x03,
}

/// <summary>A Proxy PDU: the value of a GATT characteristic of the proxy or provisioning service (Mesh Protocol 1.1 §6.3).</summary>
/// <remarks>SAR(2) | MessageType(6) | Data, at most ATT_MTU - 4 octets.</remarks>
public readonly ref struct ProxyPdu
{
    private readonly ReadOnlySpan<byte> _pdu;

    private ProxyPdu(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    public Sar Sar => (Sar)(_pdu[0] >> 6);

    /// <summary>May be a value that the standard has not assigned.</summary>
    public ProxyMessageType MessageType => (ProxyMessageType)(_pdu[0] & 0x3F);

    /// <summary>The whole message, or a segment of it. Never empty.</summary>
    public ReadOnlySpan<byte> Data => _pdu[1..];

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out ProxyPdu pdu, out DecodeProblem problem)
    {
        problem = octets.Length < 2 ? DecodeProblem.TooShort(Layer.Proxy, 2, octets.Length) : DecodeProblem.None;
        pdu = problem.IsProblem ? default : new ProxyPdu(octets);
        return !problem.IsProblem;
    }

    /// <summary>Writes the PDU and returns its length.</summary>
    public static int Write(Span<byte> pdu, Sar sar, ProxyMessageType messageType, ReadOnlySpan<byte> data)
    {
        pdu[0] = (byte)(((int)sar << 6) | ((int)messageType & 0x3F));
        data.CopyTo(pdu[1..]);
        return 1 + data.Length;
    }
}
