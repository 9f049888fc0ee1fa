using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Captures.Packets;

/// <summary>The network keys with which packets are opened, each with its IV index.</summary>
/// <remarks>Not for several threads while keys are added.</remarks>
public sealed class PacketKeys
{
    private readonly List<(NetworkCredentials Credentials, uint IvIndex)> _known = [];

    /// <summary>Adds security material of a network.</summary>
    /// <param name="credentials">Such as <see cref="NetworkCredentials.Flooding"/> of a NetKey.</param>
    /// <param name="ivIndex">The network's current IV index. A PDU with the other IVI is tried with the index before it.</param>
    public void Add(NetworkCredentials credentials, uint ivIndex)
    {
        ArgumentNullException.ThrowIfNull(credentials);
        _known.Add((credentials, ivIndex));
    }

    /// <summary>Opens a Network PDU with the first material that fits.</summary>
    /// <returns>The clear PDU, or null where none fits.</returns>
    internal byte[]? Open(NetworkPdu pdu, out uint ivIndex)
    {
        Span<byte> clear = stackalloc byte[NetworkSecurity.LongestPdu];
        foreach ((NetworkCredentials credentials, uint current) in _known)
        {
            bool same = (current & 1) != 0 == pdu.Ivi;
            if (credentials.Nid != pdu.Nid || (!same && current == 0))
                continue;
            ivIndex = same ? current : current - 1;
            if (NetworkSecurity.TryDecrypt(pdu.Octets, credentials, ivIndex, clear, out int length))
                return clear[..length].ToArray();
        }
        ivIndex = 0;
        return null;
    }
}
