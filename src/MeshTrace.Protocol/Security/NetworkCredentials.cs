using System.Buffers.Binary;

namespace MeshTrace.Protocol.Security;

/// <summary>For whom Network PDUs are secured (Mesh Protocol 1.1 §3.9.6.3.1).</summary>
public enum CredentialsKind : byte
{
    /// <summary>Managed flooding: every node that has the NetKey.</summary>
    Flooding,

    /// <summary>One Friend and one Low Power node.</summary>
    Friendship,

    /// <summary>Directed forwarding.</summary>
    Directed,
}

/// <summary>NID, encryption key and privacy key that secure a Network PDU (Mesh Protocol 1.1 §3.9.6.3.1).</summary>
public sealed class NetworkCredentials
{
    private NetworkCredentials(CredentialsKind kind, ReadOnlySpan<byte> netKey, ReadOnlySpan<byte> p)
    {
        if (netKey.Length != AesKey.Length)
            throw new ArgumentException("A NetKey has 16 octets.", nameof(netKey));
        Span<byte> encryptionKey = stackalloc byte[AesKey.Length], privacyKey = stackalloc byte[AesKey.Length];
        KeyDerivation.K2(netKey, p, out byte nid, encryptionKey, privacyKey);
        Kind = kind;
        Nid = nid;
        EncryptionKey = new AesKey(encryptionKey);
        PrivacyKey = new AesKey(privacyKey);
        encryptionKey.Clear();
        privacyKey.Clear();
    }

    /// <summary>The same keys for a given path of <see cref="AesKey"/>: for comparing the paths.</summary>
    internal NetworkCredentials(CredentialsKind kind, byte nid, AesKey encryptionKey, AesKey privacyKey) =>
        (Kind, Nid, EncryptionKey, PrivacyKey) = (kind, nid, encryptionKey, privacyKey);

    public CredentialsKind Kind { get; }

    /// <summary>The 7-bit network identifier that stands in the clear in each Network PDU; several networks can share it.</summary>
    public byte Nid { get; }

    public AesKey EncryptionKey { get; }

    public AesKey PrivacyKey { get; }

    /// <summary>Managed flooding: P = 0x00.</summary>
    public static NetworkCredentials Flooding(ReadOnlySpan<byte> netKey) => new(CredentialsKind.Flooding, netKey, [0x00]);

    /// <summary>Directed forwarding: P = 0x02.</summary>
    public static NetworkCredentials Directed(ReadOnlySpan<byte> netKey) => new(CredentialsKind.Directed, netKey, [0x02]);

    /// <summary>
    /// A friendship: P = 0x01, the two addresses and the two counters. <paramref name="lpnCounter"/> is that of the Friend Request,
    /// <paramref name="friendCounter"/> that of the Friend Offer which was accepted.
    /// </summary>
    public static NetworkCredentials Friendship(ReadOnlySpan<byte> netKey, MeshAddress lpn, MeshAddress friend, ushort lpnCounter, ushort friendCounter)
    {
        Span<byte> p = stackalloc byte[9];
        p[0] = 0x01;
        BinaryPrimitives.WriteUInt16BigEndian(p[1..], lpn.Value);
        BinaryPrimitives.WriteUInt16BigEndian(p[3..], friend.Value);
        BinaryPrimitives.WriteUInt16BigEndian(p[5..], lpnCounter);
        BinaryPrimitives.WriteUInt16BigEndian(p[7..], friendCounter);
        return new(CredentialsKind.Friendship, netKey, p);
    }

    /// <summary>Never shows a key.</summary>
    public override string ToString() => $"{Kind} credentials, NID 0x{Nid:x2}";
}
