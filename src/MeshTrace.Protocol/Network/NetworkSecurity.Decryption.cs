using System.Buffers.Binary;
using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Protocol.Network;

/// <remarks>
/// The way in is composed by hand, because it is taken for each PDU of a capture. What is encrypted is at most 18 octets, so CCM needs the blocks
/// S_0, S_1, S_2 and B_0, none of which waits for another, and then one or two chained blocks of the MAC. With the block of the obfuscation in
/// front, a PDU costs the latency of three or four blocks. Octets stay in registers, the first octet lowest.
/// </remarks>
public static partial class NetworkSecurity
{
    private const ulong LowSixOctets = 0xFFFF_FFFF_FFFF;

    /// <summary>A window into this at 16 - n keeps n octets.</summary>
    private static ReadOnlySpan<byte> Masks =>
    [
        0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF,
        0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0,
    ];

    private static bool TryDecrypt(ReadOnlySpan<byte> pdu, NetworkCredentials credentials, uint ivIndex, Nonce nonceType, Span<byte> clear,
        out int length)
    {
        length = 0;
        if (pdu.Length is < NetworkPdu.ShortestLength or > LongestPdu)
            return false;
        if (clear.Length < pdu.Length)
            throw new ArgumentException("The destination is shorter than the PDU.", nameof(clear));

        uint ivOctets = BinaryPrimitives.ReverseEndianness(ivIndex);
        ulong ctlToSrc = Deobfuscate(pdu, credentials.PrivacyKey, ivOctets);
        bool ctl = (ctlToSrc & 0x80) != 0;
        int micLength = ctl ? 8 : 4;
        int encrypted = pdu.Length - ClearHeaderLength - micLength;   // DST and TransportPDU
        if (encrypted < (nonceType == Nonce.ProxySolicitation ? 2 : 3))
            return false;

        // The nonce as the octets 1 to 13 of the blocks A_i and B_0 (RFC 3610 §2.2, §2.3)
        ulong low = ((nonceType == Nonce.Network ? ctlToSrc : ctlToSrc & ~0xFFUL) << 16) | ((ulong)nonceType << 8);
        ulong high = (ulong)ivOctets << 16;
        Vector128<byte> s0 = Vector128.Create(low | 0x01, high).AsByte();
        Vector128<byte> s1 = Vector128.Create(low | 0x01, high | (1UL << 56)).AsByte();
        Vector128<byte> s2 = Vector128.Create(low | 0x01, high | (2UL << 56)).AsByte();
        Vector128<byte> mac = Vector128.Create(low | (ctl ? 0x19u : 0x09u), high | ((ulong)(uint)encrypted << 56)).AsByte();
        credentials.EncryptionKey.Encrypt(ref s0, ref s1, ref s2, ref mac);

        int inFirst = Math.Min(encrypted, AesKey.BlockLength);
        Vector128<byte> first = (LoadEncrypted(pdu) ^ s1) & Vector128.Create(Masks[(AesKey.BlockLength - inFirst)..]);
        mac = credentials.EncryptionKey.Encrypt(mac ^ first);
        uint second = 0;
        if (encrypted > AesKey.BlockLength)
        {
            uint keep = encrypted == AesKey.BlockLength + 1 ? 0xFFu : 0xFFFFu;
            second = (BinaryPrimitives.ReadUInt16LittleEndian(pdu[(ClearHeaderLength + AesKey.BlockLength)..]) ^ s2.AsUInt32()[0]) & keep;
            mac = credentials.EncryptionKey.Encrypt(mac ^ Vector128.CreateScalar(second).AsByte());
        }

        // One comparison of a whole register: the time does not tell how many octets were right.
        ulong expected = (mac ^ s0).AsUInt64()[0];
        ulong differs = ctl
            ? expected ^ BinaryPrimitives.ReadUInt64LittleEndian(pdu[^8..])
            : (uint)(expected & uint.MaxValue) ^ BinaryPrimitives.ReadUInt32LittleEndian(pdu[^4..]);
        if (differs != 0)
            return false;

        length = ClearHeaderLength + encrypted;
        StoreClear(clear[..pdu.Length], pdu[0], ctlToSrc, first, second, encrypted);
        return true;
    }

    /// <summary>
    /// CTL, TTL, SEQ and SRC: XOR with the first six octets of AES over 0 (40 bits), IV index and PrivacyRandom (§3.9.7).
    /// </summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static ulong Deobfuscate(ReadOnlySpan<byte> pdu, AesKey privacyKey, uint ivOctets)
    {
        ulong privacyRandom = BinaryPrimitives.ReadUInt64LittleEndian(pdu[(ClearHeaderLength - 1)..]) & ~0xFFUL;
        Vector128<byte> plaintext = Vector128.Create((ulong)ivOctets << 40, (ivOctets >> 24) | privacyRandom).AsByte();
        ulong pecb = privacyKey.Encrypt(plaintext).AsUInt64()[0];
        return (BinaryPrimitives.ReadUInt64LittleEndian(pdu[1..]) ^ pecb) & LowSixOctets;
    }

    /// <summary>Up to 16 octets from the encrypted DST on; what stands behind the ciphertext is masked away by the caller.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static Vector128<byte> LoadEncrypted(ReadOnlySpan<byte> pdu)
    {
        int missing = ClearHeaderLength + AesKey.BlockLength - pdu.Length;
        if (missing <= 0)
            return Vector128.Create(pdu[ClearHeaderLength..]);
        if (pdu.Length < AesKey.BlockLength)
            return Vector128.Create(BinaryPrimitives.ReadUInt64LittleEndian(pdu[^8..]) >> (8 * (ClearHeaderLength + 8 - pdu.Length)), 0UL).AsByte();
        // The last 16 octets of the PDU, moved down: one load, where copying to a padded buffer would stall on its own store.
        return Vector128.Shuffle(Vector128.Create(pdu[^AesKey.BlockLength..]), Vector128<byte>.Indices + Vector128.Create((byte)missing));
    }

    private static void StoreClear(Span<byte> clear, byte iviAndNid, ulong ctlToSrc, Vector128<byte> first, uint second, int encrypted)
    {
        int missing = ClearHeaderLength + AesKey.BlockLength - clear.Length;
        if (missing <= 0)
        {
            first.CopyTo(clear[ClearHeaderLength..]);
            if (encrypted > AesKey.BlockLength)
                BinaryPrimitives.WriteUInt16LittleEndian(clear[(ClearHeaderLength + AesKey.BlockLength)..], (ushort)second);
        }
        else if (clear.Length < AesKey.BlockLength)
        {
            clear.Clear();
            for (int i = 0; i < encrypted; i++)
                clear[ClearHeaderLength + i] = first[i];
        }
        else
        {
            // Moved up again; the octets in front are written next.
            Vector128.Shuffle(first, Vector128<byte>.Indices - Vector128.Create((byte)missing)).CopyTo(clear[^AesKey.BlockLength..]);
        }
        BinaryPrimitives.WriteUInt32LittleEndian(clear[3..], (uint)(ctlToSrc >> 16));
        BinaryPrimitives.WriteUInt32LittleEndian(clear, ((uint)(ctlToSrc & 0xFFFFFF) << 8) | iviAndNid);
    }
}
