using System.Buffers.Binary;

namespace MeshTrace.Protocol.Proxy;

/// <summary>The opcodes of proxy configuration messages (Mesh Protocol 1.1 §6.6). Other values are reserved.</summary>
public enum ProxyConfigurationOpcode : byte
{
    SetFilterType = 0x00,
    AddAddressesToFilter = 0x01,
    RemoveAddressesFromFilter = 0x02,
    FilterStatus = 0x03,
    DirectedProxyCapabilitiesStatus = 0x04,
    DirectedProxyControl = 0x05,
}

/// <summary>What a proxy filter does with the addresses of its list (Mesh Protocol 1.1 §6). Other values are prohibited.</summary>
public enum ProxyFilterType : byte
{
    AcceptList = 0x00,
    RejectList = 0x01,
}

/// <summary>
/// A proxy configuration message: the TransportPDU of a Network PDU secured with the proxy nonce (Mesh Protocol 1.1 §6.6).
/// </summary>
/// <remarks>Opcode(8) | Parameters; big-endian. A property of another opcode than the message's is null, or empty.</remarks>
public readonly ref struct ProxyConfigurationMessage
{
    private readonly ReadOnlySpan<byte> _message;

    private ProxyConfigurationMessage(ReadOnlySpan<byte> message) => _message = message;

    public ProxyConfigurationOpcode Opcode => (ProxyConfigurationOpcode)_message[0];

    public ReadOnlySpan<byte> Parameters => _message[1..];

    /// <summary>Of Set Filter Type and Filter Status.</summary>
    public ProxyFilterType? FilterType =>
        Opcode is ProxyConfigurationOpcode.SetFilterType or ProxyConfigurationOpcode.FilterStatus ? (ProxyFilterType)_message[1] : null;

    /// <summary>Of Filter Status: addresses in the proxy filter list.</summary>
    public ushort? ListSize => Opcode == ProxyConfigurationOpcode.FilterStatus ? BinaryPrimitives.ReadUInt16BigEndian(_message[2..]) : null;

    /// <summary>Of the two messages with an AddressArray: how many addresses it has.</summary>
    public int AddressCount =>
        Opcode is ProxyConfigurationOpcode.AddAddressesToFilter or ProxyConfigurationOpcode.RemoveAddressesFromFilter ? Parameters.Length / 2 : 0;

    /// <summary>Address number <paramref name="index"/> of the AddressArray.</summary>
    public MeshAddress AddressAt(int index)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual((uint)index, (uint)AddressCount, nameof(index));
        return new MeshAddress(BinaryPrimitives.ReadUInt16BigEndian(Parameters[(2 * index)..]));
    }

    /// <summary>Of DIRECTED_PROXY_CAPABILITIES_STATUS: whether the server has directed proxy functionality enabled.</summary>
    public bool? DirectedProxy => Opcode == ProxyConfigurationOpcode.DirectedProxyCapabilitiesStatus ? _message[1] != 0 : null;

    /// <summary>Of the two directed proxy messages: whether directed forwarding is used for the client.</summary>
    public bool? UseDirected => Opcode switch
    {
        ProxyConfigurationOpcode.DirectedProxyCapabilitiesStatus => _message[2] != 0,
        ProxyConfigurationOpcode.DirectedProxyControl => _message[1] != 0,
        _ => null,
    };

    /// <summary>Of DIRECTED_PROXY_CONTROL with Use_Directed 1: the addresses of the client.</summary>
    public UnicastAddressRange? ClientRange =>
        Opcode == ProxyConfigurationOpcode.DirectedProxyControl && UnicastAddressRange.TryRead(Parameters[1..], out UnicastAddressRange range) ? range : null;

    /// <summary>
    /// Every check is here; once it has returned true, no property can fail. A reserved opcode is read, with its parameters as they are.
    /// </summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out ProxyConfigurationMessage message, out DecodeProblem problem)
    {
        problem = Check(octets);
        message = problem.IsProblem ? default : new ProxyConfigurationMessage(octets);
        return !problem.IsProblem;
    }

    private static DecodeProblem Check(ReadOnlySpan<byte> octets)
    {
        if (octets.IsEmpty)
            return DecodeProblem.TooShort(Layer.Proxy, 1, 0, "Opcode");
        switch ((ProxyConfigurationOpcode)octets[0])
        {
            case ProxyConfigurationOpcode.SetFilterType:
                return Fixed(octets, 2) is { IsProblem: true } setProblem ? setProblem : AtMostOne(octets, 1, "FilterType");
            case ProxyConfigurationOpcode.FilterStatus:
                return Fixed(octets, 4) is { IsProblem: true } statusProblem ? statusProblem : AtMostOne(octets, 1, "FilterType");
            case ProxyConfigurationOpcode.AddAddressesToFilter or ProxyConfigurationOpcode.RemoveAddressesFromFilter:
                return octets.Length % 2 == 1 ? DecodeProblem.None : DecodeProblem.TooShort(Layer.Proxy, octets.Length + 1, octets.Length, "AddressArray");
            case ProxyConfigurationOpcode.DirectedProxyCapabilitiesStatus:
                if (Fixed(octets, 3) is { IsProblem: true } problem)
                    return problem;
                return AtMostOne(octets, 1, "Directed_Proxy") is { IsProblem: true } first ? first : AtMostOne(octets, 2, "Use_Directed");
            case ProxyConfigurationOpcode.DirectedProxyControl:
                return CheckControl(octets);
            default:
                return DecodeProblem.None;
        }
    }

    /// <summary>The address range is there with Use_Directed 1, and only then.</summary>
    private static DecodeProblem CheckControl(ReadOnlySpan<byte> octets)
    {
        if (octets.Length < 2)
            return DecodeProblem.TooShort(Layer.Proxy, 2, octets.Length, "Use_Directed");
        if (AtMostOne(octets, 1, "Use_Directed") is { IsProblem: true } problem)
            return problem;
        if (octets[1] == 0)
            return Fixed(octets, 2);
        if (octets.Length < 4)
            return DecodeProblem.TooShort(Layer.Proxy, 4, octets.Length, "Proxy_Client_Unicast_Addr_Range");
        return Fixed(octets, (octets[2] & 0x80) != 0 ? 5 : 4);   // LengthPresent
    }

    private static DecodeProblem Fixed(ReadOnlySpan<byte> octets, int length) =>
        octets.Length == length ? DecodeProblem.None : DecodeProblem.WrongLength(Layer.Proxy, length, octets.Length);

    private static DecodeProblem AtMostOne(ReadOnlySpan<byte> octets, int offset, string field) =>
        octets[offset] <= 1 ? DecodeProblem.None : DecodeProblem.WrongValue(Layer.Proxy, offset, field, octets[offset]);
}
