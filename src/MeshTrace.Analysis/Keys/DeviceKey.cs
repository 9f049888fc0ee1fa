using MeshTrace.Protocol;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Analysis.Keys;

/// <summary>The device key of one node.</summary>
public sealed class DeviceKey
{
    internal DeviceKey(ReadOnlySpan<byte> octets)
    {
        Material = new AesKey(octets);
        Octets = octets.ToArray();
    }

    internal AesKey Material { get; }
    internal byte[] Octets { get; }

    /// <summary>Unicast address of the node's primary element.</summary>
    public required MeshAddress Node { get; init; }
    public required KeyOrigin Origin { get; init; }
    public int MessagesOpened { get; internal set; }
}
