using System.Buffers.Binary;

namespace MeshTrace.Protocol.Proxy;

/// <summary>Writes proxy configuration messages (Mesh Protocol 1.1 §6.6); each method returns the octets written.</summary>
public static class ProxyConfigurationWriter
{
    /// <summary>Addresses that fit into one message: it travels as an unsegmented TransportPDU of at most 12 octets.</summary>
    public const int MostAddresses = 5;

    public static int WriteSetFilterType(Span<byte> message, ProxyFilterType filterType)
    {
        message[0] = (byte)ProxyConfigurationOpcode.SetFilterType;
        message[1] = (byte)filterType;
        return 2;
    }

    /// <summary>Add Addresses To Filter or, where <paramref name="add"/> is false, Remove Addresses From Filter.</summary>
    public static int WriteAddresses(Span<byte> message, bool add, ReadOnlySpan<MeshAddress> addresses)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(addresses.Length, MostAddresses);
        message[0] = (byte)(add ? ProxyConfigurationOpcode.AddAddressesToFilter : ProxyConfigurationOpcode.RemoveAddressesFromFilter);
        for (int i = 0; i < addresses.Length; i++)
            BinaryPrimitives.WriteUInt16BigEndian(message[(1 + (2 * i))..], addresses[i].Value);
        return 1 + (2 * addresses.Length);
    }

    public static int WriteFilterStatus(Span<byte> message, ProxyFilterType filterType, ushort listSize)
    {
        message[0] = (byte)ProxyConfigurationOpcode.FilterStatus;
        message[1] = (byte)filterType;
        BinaryPrimitives.WriteUInt16BigEndian(message[2..], listSize);
        return 4;
    }

    public static int WriteDirectedProxyCapabilitiesStatus(Span<byte> message, bool directedProxy, bool useDirected)
    {
        message[0] = (byte)ProxyConfigurationOpcode.DirectedProxyCapabilitiesStatus;
        message[1] = (byte)(directedProxy ? 1 : 0);
        message[2] = (byte)(useDirected ? 1 : 0);
        return 3;
    }

    /// <summary>With a range the client asks for directed forwarding, without one it asks for none.</summary>
    public static int WriteDirectedProxyControl(Span<byte> message, UnicastAddressRange? clientRange)
    {
        message[0] = (byte)ProxyConfigurationOpcode.DirectedProxyControl;
        message[1] = (byte)(clientRange is null ? 0 : 1);
        return 2 + (clientRange?.Write(message[2..]) ?? 0);
    }
}
