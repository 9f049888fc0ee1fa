using System.Buffers.Binary;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Protocol.Network;

/// <summary>
/// Obfuscation and encryption of Network PDUs (Mesh Protocol 1.1 §3.9.7), with the network nonce (§3.9.5.1), the proxy nonce (§3.9.5.4) and the
/// proxy solicitation nonce (§3.9.5.5). Nothing here allocates or throws for what came from the air.
/// </summary>
public static partial class NetworkSecurity
{
    /// <summary>Octets of the longest Network PDU: what one legacy advertising PDU holds behind length and AD type.</summary>
    public const int LongestPdu = 29;

    /// <summary>Octets of the longest clear PDU: the longest PDU without a 32-bit NetMIC.</summary>
    public const int LongestClearPdu = LongestPdu - 4;

    /// <summary>IVI and NID, then the obfuscated CTL, TTL, SEQ and SRC.</summary>
    private const int ClearHeaderLength = 7;

    /// <summary>Which nonce the PDU is secured with; the value is the nonce type on the wire (§3.9.5).</summary>
    internal enum Nonce : byte
    {
        Network = 0x00,
        Proxy = 0x03,
        ProxySolicitation = 0x04,
    }

    /// <summary>
    /// Deobfuscates and decrypts a Network PDU. The IV index is that of the network or, where IVI says so, the one before.
    /// </summary>
    /// <param name="clear">At least pdu.Length octets, and not the memory of the PDU. Not written to where the answer is false.</param>
    /// <param name="length">Octets of the clear PDU, which <see cref="ClearNetworkPdu"/> reads.</param>
    /// <returns>False where the NetMIC does not fit these credentials and this IV index, or the length is none of a Network PDU.</returns>
    /// <exception cref="ArgumentException">The destination is too short.</exception>
    public static bool TryDecrypt(ReadOnlySpan<byte> pdu, NetworkCredentials credentials, uint ivIndex, Span<byte> clear, out int length) =>
        TryDecrypt(pdu, credentials, ivIndex, Nonce.Network, clear, out length);

    /// <summary>The same for a proxy configuration message: CTL 1, TTL 0, secured with the proxy nonce (§6.6).</summary>
    /// <inheritdoc cref="TryDecrypt(ReadOnlySpan{byte}, NetworkCredentials, uint, Span{byte}, out int)"/>
    public static bool TryDecryptProxyConfiguration(ReadOnlySpan<byte> pdu, NetworkCredentials credentials, uint ivIndex, Span<byte> clear, out int length) =>
        TryDecrypt(pdu, credentials, ivIndex, Nonce.Proxy, clear, out length);

    /// <summary>The same for a Solicitation PDU, which uses no IV index and carries no TransportPDU (§6.9.1).</summary>
    /// <inheritdoc cref="TryDecrypt(ReadOnlySpan{byte}, NetworkCredentials, uint, Span{byte}, out int)"/>
    public static bool TryDecryptSolicitation(ReadOnlySpan<byte> pdu, NetworkCredentials credentials, Span<byte> clear, out int length) =>
        TryDecrypt(pdu, credentials, ivIndex: 0, Nonce.ProxySolicitation, clear, out length);

    /// <summary>Encrypts and obfuscates a clear PDU as <see cref="Write"/> lays it out.</summary>
    /// <param name="pdu">At least clear.Length + 8 octets for CTL 1, clear.Length + 4 for CTL 0.</param>
    /// <returns>Octets of the PDU.</returns>
    /// <exception cref="ArgumentException">The clear PDU is too short or too long, or the destination too short.</exception>
    public static int Encrypt(ReadOnlySpan<byte> clear, NetworkCredentials credentials, uint ivIndex, Span<byte> pdu) =>
        Encrypt(clear, credentials, ivIndex, Nonce.Network, pdu);

    /// <summary>The same with the proxy nonce (§6.6).</summary>
    /// <inheritdoc cref="Encrypt(ReadOnlySpan{byte}, NetworkCredentials, uint, Span{byte})"/>
    public static int EncryptProxyConfiguration(ReadOnlySpan<byte> clear, NetworkCredentials credentials, uint ivIndex, Span<byte> pdu) =>
        Encrypt(clear, credentials, ivIndex, Nonce.Proxy, pdu);

    /// <summary>The same with the proxy solicitation nonce (§6.9.1).</summary>
    /// <inheritdoc cref="Encrypt(ReadOnlySpan{byte}, NetworkCredentials, uint, Span{byte})"/>
    public static int EncryptSolicitation(ReadOnlySpan<byte> clear, NetworkCredentials credentials, Span<byte> pdu) =>
        Encrypt(clear, credentials, ivIndex: 0, Nonce.ProxySolicitation, pdu);

    /// <summary>Lays out a clear PDU and returns its length: 9 octets and the TransportPDU.</summary>
    public static int Write(Span<byte> clear, uint ivIndex, byte nid, bool ctl, byte ttl, uint seq, MeshAddress src, MeshAddress dst,
        ReadOnlySpan<byte> transportPdu)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(nid, 0x7F);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(ttl, 0x7F);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(seq, 0xFFFFFFu);
        clear[0] = (byte)(((ivIndex & 1) << 7) | nid);
        BinaryPrimitives.WriteUInt32BigEndian(clear[1..], seq);
        clear[1] = (byte)((ctl ? 0x80 : 0) | ttl);
        BinaryPrimitives.WriteUInt16BigEndian(clear[5..], src.Value);
        BinaryPrimitives.WriteUInt16BigEndian(clear[7..], dst.Value);
        transportPdu.CopyTo(clear[ClearNetworkPdu.HeaderLength..]);
        return ClearNetworkPdu.HeaderLength + transportPdu.Length;
    }

    private static int Encrypt(ReadOnlySpan<byte> clear, NetworkCredentials credentials, uint ivIndex, Nonce nonceType, Span<byte> pdu)
    {
        if (clear.Length < ClearNetworkPdu.HeaderLength)
            throw new ArgumentException("A clear PDU has at least 9 octets.", nameof(clear));
        int micLength = (clear[1] & 0x80) != 0 ? 8 : 4;
        int length = clear.Length + micLength;
        if (length > LongestPdu)
            throw new ArgumentException("The PDU would have more than 29 octets.", nameof(clear));

        Span<byte> nonce = stackalloc byte[AesCcm.NonceLength];
        WriteNonce(nonce, nonceType, clear[1..ClearHeaderLength], ivIndex);
        AesCcm.Encrypt(credentials.EncryptionKey, nonce, clear[ClearHeaderLength..], micLength, [], pdu[ClearHeaderLength..length]);

        Span<byte> privacy = stackalloc byte[AesKey.BlockLength];
        WritePrivacyPlaintext(privacy, pdu[ClearHeaderLength..], ivIndex);
        credentials.PrivacyKey.Encrypt(privacy, privacy);
        pdu[0] = clear[0];
        for (int i = 1; i < ClearHeaderLength; i++)
            pdu[i] = (byte)(clear[i] ^ privacy[i - 1]);
        return length;
    }

    /// <summary>Nonce type, CTL and TTL (0 in the proxy nonces), SEQ, SRC, two octets of 0, IV index.</summary>
    internal static void WriteNonce(Span<byte> nonce, Nonce type, ReadOnlySpan<byte> ctlToSrc, uint ivIndex)
    {
        nonce.Clear();
        nonce[0] = (byte)type;
        ctlToSrc.CopyTo(nonce[1..]);
        if (type != Nonce.Network)
            nonce[1] = 0;
        BinaryPrimitives.WriteUInt32BigEndian(nonce[9..], ivIndex);
    }

    /// <summary>Padding of 40 bits, IV index, PrivacyRandom: the first seven octets of what is encrypted (§3.9.7).</summary>
    internal static void WritePrivacyPlaintext(Span<byte> block, ReadOnlySpan<byte> encrypted, uint ivIndex)
    {
        block.Clear();
        BinaryPrimitives.WriteUInt32BigEndian(block[5..], ivIndex);
        encrypted[..7].CopyTo(block[9..]);
    }
}
