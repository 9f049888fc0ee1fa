using System.Buffers.Binary;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Protocol.Proxy;

/// <summary>How a proxy server names itself in its advertising (Mesh Protocol 1.1 §7.2). Other values are reserved.</summary>
public enum IdentificationType : byte
{
    NetworkId = 0x00,
    NodeIdentity = 0x01,
    PrivateNetworkIdentity = 0x02,
    PrivateNodeIdentity = 0x03,
}

/// <summary>Service Data of the Mesh Proxy Service 0x1828, behind the UUID (Mesh Protocol 1.1 §7.2).</summary>
/// <remarks>IdentificationType(8) | Network ID(64), or Hash(64) | Random(64).</remarks>
public readonly ref struct ProxyServiceData
{
    public const int NetworkIdLength = 9, HashedLength = 17;

    private readonly ReadOnlySpan<byte> _data;

    private ProxyServiceData(ReadOnlySpan<byte> data) => _data = data;

    public IdentificationType Type => (IdentificationType)_data[0];

    /// <summary>The network's public identifier, or null where the advertising hides it.</summary>
    public ulong? NetworkId => Type == IdentificationType.NetworkId ? BinaryPrimitives.ReadUInt64BigEndian(_data[1..]) : null;

    /// <summary>8 octets of hash, or null with <see cref="IdentificationType.NetworkId"/>.</summary>
    public ulong? Hash => Type == IdentificationType.NetworkId ? null : BinaryPrimitives.ReadUInt64BigEndian(_data[1..]);

    /// <summary>The 8 octets that were hashed with, or null with <see cref="IdentificationType.NetworkId"/>.</summary>
    public ulong? Random => Type == IdentificationType.NetworkId ? null : BinaryPrimitives.ReadUInt64BigEndian(_data[9..]);

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> serviceData, out ProxyServiceData data, out DecodeProblem problem)
    {
        data = default;
        problem = DecodeProblem.None;
        if (serviceData.IsEmpty)
            problem = DecodeProblem.TooShort(Layer.Proxy, NetworkIdLength, 0);
        else if (serviceData[0] > (byte)IdentificationType.PrivateNodeIdentity)
            problem = DecodeProblem.WrongValue(Layer.Proxy, 0, "IdentificationType", serviceData[0]);
        else
        {
            int length = serviceData[0] == (byte)IdentificationType.NetworkId ? NetworkIdLength : HashedLength;
            if (serviceData.Length != length)
                problem = DecodeProblem.WrongLength(Layer.Proxy, length, serviceData.Length);
            else
                data = new ProxyServiceData(serviceData);
        }
        return !problem.IsProblem;
    }

    /// <summary>
    /// True where this is the network of the key: its Network ID, or a Private Network Identity made with its IdentityKey.
    /// </summary>
    public bool IsOf(NetKeyMaterial network) => Type switch
    {
        IdentificationType.NetworkId => NetworkId == network.NetworkId,
        IdentificationType.PrivateNetworkIdentity => Hash == HashOfNetwork(network.IdentityKey, network.NetworkId, Random!.Value),
        _ => false,
    };

    /// <summary>True where this is a Node Identity or Private Node Identity of the node with this primary unicast address.</summary>
    public bool IsOf(AesKey identityKey, MeshAddress address) => Type is IdentificationType.NodeIdentity or IdentificationType.PrivateNodeIdentity
        && Hash == HashOfNode(identityKey, Type, address, Random!.Value);

    /// <summary>Writes the Network ID form and returns its length.</summary>
    public static int WriteNetworkId(Span<byte> serviceData, ulong networkId)
    {
        serviceData[0] = (byte)IdentificationType.NetworkId;
        BinaryPrimitives.WriteUInt64BigEndian(serviceData[1..], networkId);
        return NetworkIdLength;
    }

    /// <summary>Writes a Private Network Identity and returns its length.</summary>
    public static int WritePrivateNetworkIdentity(Span<byte> serviceData, NetKeyMaterial network, ulong random) =>
        WriteHashed(serviceData, IdentificationType.PrivateNetworkIdentity, HashOfNetwork(network.IdentityKey, network.NetworkId, random), random);

    /// <summary>Writes a Node Identity, or a Private Node Identity where <paramref name="isPrivate"/>, and returns its length.</summary>
    public static int WriteNodeIdentity(Span<byte> serviceData, AesKey identityKey, MeshAddress address, ulong random, bool isPrivate)
    {
        IdentificationType type = isPrivate ? IdentificationType.PrivateNodeIdentity : IdentificationType.NodeIdentity;
        return WriteHashed(serviceData, type, HashOfNode(identityKey, type, address, random), random);
    }

    private static int WriteHashed(Span<byte> serviceData, IdentificationType type, ulong hash, ulong random)
    {
        serviceData[0] = (byte)type;
        BinaryPrimitives.WriteUInt64BigEndian(serviceData[1..], hash);
        BinaryPrimitives.WriteUInt64BigEndian(serviceData[9..], random);
        return HashedLength;
    }

    /// <summary>
    /// Low 64 bits of e(IdentityKey, Padding(48) || Random || Address); the private form has 0x03 as the last octet of the padding.
    /// </summary>
    private static ulong HashOfNode(AesKey identityKey, IdentificationType type, MeshAddress address, ulong random)
    {
        Span<byte> block = stackalloc byte[AesKey.BlockLength];
        block.Clear();
        block[5] = (byte)(type == IdentificationType.PrivateNodeIdentity ? 0x03 : 0x00);
        BinaryPrimitives.WriteUInt64BigEndian(block[6..], random);
        BinaryPrimitives.WriteUInt16BigEndian(block[14..], address.Value);
        return LowHalf(identityKey, block);
    }

    /// <summary>Low 64 bits of e(IdentityKey, Network ID || Random).</summary>
    private static ulong HashOfNetwork(AesKey identityKey, ulong networkId, ulong random)
    {
        Span<byte> block = stackalloc byte[AesKey.BlockLength];
        BinaryPrimitives.WriteUInt64BigEndian(block, networkId);
        BinaryPrimitives.WriteUInt64BigEndian(block[8..], random);
        return LowHalf(identityKey, block);
    }

    private static ulong LowHalf(AesKey identityKey, Span<byte> block)
    {
        identityKey.Encrypt(block, block);
        return BinaryPrimitives.ReadUInt64BigEndian(block[8..]);
    }
}
