using MeshTrace.Protocol;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Network;
using MeshTrace.Synthesis.Nodes.Friendship;
using MeshTrace.Synthesis.Truth;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>A Network PDU at the TTL at which one station sends it.</summary>
internal sealed record PduAtTtl(MeshPdu Pdu, byte Ttl);

/// <summary>One Network PDU: the same content at every TTL.</summary>
internal sealed class MeshPdu
{
    private readonly Dictionary<byte, byte[]> _advData = [];

    internal required SubnetKeys Subnet { get; init; }
    internal required uint IvIndex { get; init; }
    internal required bool Ctl { get; init; }
    internal required uint Seq { get; init; }
    internal required MeshAddress Src { get; init; }
    internal required MeshAddress Dst { get; init; }
    internal required byte[] TransportPdu { get; init; }
    internal required LowerContent Content { get; init; }
    internal required FloodTruth Truth { get; init; }

    /// <summary>Secured with the credentials of this friendship instead of the flooding ones.</summary>
    internal FriendshipBond? Bond { get; init; }

    /// <summary>The same PDU as a Friend gives it to its Low Power node: SRC, SEQ and content stay.</summary>
    internal MeshPdu Under(FriendshipBond bond) => new()
    {
        Subnet = Subnet, IvIndex = IvIndex, Ctl = Ctl, Seq = Seq, Src = Src, Dst = Dst, TransportPdu = TransportPdu, Content = Content,
        Truth = Truth, Bond = bond,
    };

    /// <summary>AdvData with this PDU as a Mesh Message AD structure; encrypted once for each TTL.</summary>
    internal byte[] AdvDataAt(byte ttl)
    {
        if (!_advData.TryGetValue(ttl, out byte[]? advData))
        {
            Span<byte> clear = stackalloc byte[NetworkSecurity.LongestPdu], pdu = stackalloc byte[NetworkSecurity.LongestPdu];
            var credentials = Bond?.CredentialsOf(Subnet) ?? Subnet.Material.Flooding;
            int length = NetworkSecurity.Write(clear, IvIndex, credentials.Nid, Ctl, ttl, Seq, Src, Dst, TransportPdu);
            length = NetworkSecurity.Encrypt(clear[..length], credentials, IvIndex, pdu);
            advData = new byte[length + 2];
            AdStructureWriter.Write(advData, AdType.MeshMessage, pdu[..length]);
            _advData[ttl] = advData;
        }
        return advData;
    }
}
