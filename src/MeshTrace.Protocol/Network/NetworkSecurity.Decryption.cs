using System.Buffers.Binary;
using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Protocol.Network;

/// <remarks>
/// The way in is composed by hand, because it is taken for each PDU of a capture. What is encrypted is at most 18 octets, so CCM needs the blocks
/// S_0, S_1, S_2 and B_0, none of which waits for another, and then one or two chained blocks of the MAC. With the block of the obfuscation in
/// front, a PDU costs the latency of three or four blocks. Octets stay in registers, the first octet lowest. Of a batch, four PDUs are opened at once: the
/// processor starts a round in each step, but a round is done only some steps later.
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
        var opening = new Opening(pdu, Deobfuscated(pdu, credentials.PrivacyKey.Encrypt(PrivacyPlaintext(pdu, ivOctets))), ivOctets, nonceType);
        if (!opening.IsLongEnough)
            return false;
        credentials.EncryptionKey.Encrypt(ref opening.S0, ref opening.S1, ref opening.S2, ref opening.Mac);
        opening.TakeFirst(pdu);
        opening.Mac = credentials.EncryptionKey.Encrypt(opening.Mac);
        if (opening.HasSecond)
        {
            opening.TakeSecond(pdu);
            opening.Mac = credentials.EncryptionKey.Encrypt(opening.Mac);
        }
        if (!opening.Fits(pdu))
            return false;
        length = ClearHeaderLength + opening.Encrypted;
        opening.Store(pdu, clear);
        return true;
    }

    /// <summary>
    /// Opens four Network PDUs at once, each as <see cref="TryDecrypt(ReadOnlySpan{byte}, NetworkCredentials, uint, Span{byte}, out int)"/> does: the rounds of
    /// blocks that wait for each other within a PDU are interleaved over the four, which takes little more than half the time.
    /// </summary>
    /// <exception cref="ArgumentException">A destination is too short.</exception>
    public static void DecryptFour(ref NetworkTask a, ref NetworkTask b, ref NetworkTask c, ref NetworkTask d)
    {
        if (!(CanInterleave(ref a) && CanInterleave(ref b) && CanInterleave(ref c) && CanInterleave(ref d)))
        {
            Decrypt(ref a);
            Decrypt(ref b);
            Decrypt(ref c);
            Decrypt(ref d);
            return;
        }
        Vector128<byte> w = a.PrivacyPlaintext, x = b.PrivacyPlaintext, y = c.PrivacyPlaintext, z = d.PrivacyPlaintext;
        AesKey.EncryptEach(a.Credentials.PrivacyKey, ref w, b.Credentials.PrivacyKey, ref x, c.Credentials.PrivacyKey, ref y, d.Credentials.PrivacyKey, ref z);
        Opening p = Begin(ref a, w), q = Begin(ref b, x), r = Begin(ref c, y), s = Begin(ref d, z);
        AesKey k = a.Credentials.EncryptionKey, l = b.Credentials.EncryptionKey, m = c.Credentials.EncryptionKey, n = d.Credentials.EncryptionKey;
        AesKey.EncryptEach(k, ref p.Mac, l, ref q.Mac, m, ref r.Mac, n, ref s.Mac);
        p.TakeFirst(a.Pdu);
        q.TakeFirst(b.Pdu);
        r.TakeFirst(c.Pdu);
        s.TakeFirst(d.Pdu);
        AesKey.EncryptEach(k, ref p.Mac, l, ref q.Mac, m, ref r.Mac, n, ref s.Mac);
        if (p.HasSecond || q.HasSecond || r.HasSecond || s.HasSecond)
        {
            w = p.Mac;
            x = q.Mac;
            y = r.Mac;
            z = s.Mac;
            p.TakeSecond(a.Pdu);
            q.TakeSecond(b.Pdu);
            r.TakeSecond(c.Pdu);
            s.TakeSecond(d.Pdu);
            AesKey.EncryptEach(k, ref p.Mac, l, ref q.Mac, m, ref r.Mac, n, ref s.Mac);
            p.Mac = p.HasSecond ? p.Mac : w;
            q.Mac = q.HasSecond ? q.Mac : x;
            r.Mac = r.HasSecond ? r.Mac : y;
            s.Mac = s.HasSecond ? s.Mac : z;
        }
        End(ref a, ref p);
        End(ref b, ref q);
        End(ref c, ref r);
        End(ref d, ref s);
    }

    private static bool CanInterleave(ref NetworkTask task) => task.Pdu.Length is >= NetworkPdu.ShortestLength and <= LongestPdu && task.Clear.Length >= task.Pdu.Length
        && task.Credentials.EncryptionKey.IsProcessorPath && task.Credentials.PrivacyKey.IsProcessorPath;

    private static void Decrypt(ref NetworkTask task)
    {
        TryDecrypt(task.Pdu, task.Credentials, task.IvIndex, task.Clear, out int length);
        task.Length = length;
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static Opening Begin(ref NetworkTask task, Vector128<byte> pecb)
    {
        var opening = new Opening(task.Pdu, Deobfuscated(task.Pdu, pecb), BinaryPrimitives.ReverseEndianness(task.IvIndex), Nonce.Network);
        task.Credentials.EncryptionKey.EncryptProcessor(ref opening.S0, ref opening.S1, ref opening.S2);
        return opening;
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static void End(ref NetworkTask task, ref Opening opening)
    {
        task.Length = 0;
        if (!opening.IsLongEnough || !opening.Fits(task.Pdu))
            return;
        task.Length = ClearHeaderLength + opening.Encrypted;
        opening.Store(task.Pdu, task.Clear);
    }

    /// <summary>0 (40 bits), IV index and PrivacyRandom: what is encrypted for the obfuscation (§3.9.7).</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    internal static Vector128<byte> PrivacyPlaintext(ReadOnlySpan<byte> pdu, uint ivOctets)
    {
        ulong privacyRandom = BinaryPrimitives.ReadUInt64LittleEndian(pdu[(ClearHeaderLength - 1)..]) & ~0xFFUL;
        return Vector128.Create((ulong)ivOctets << 40, (ivOctets >> 24) | privacyRandom).AsByte();
    }

    /// <summary>CTL, TTL, SEQ and SRC: XOR with the first six octets of the block of the obfuscation.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static ulong Deobfuscated(ReadOnlySpan<byte> pdu, Vector128<byte> pecb) =>
        (BinaryPrimitives.ReadUInt64LittleEndian(pdu[1..]) ^ pecb.AsUInt64()[0]) & LowSixOctets;

    /// <summary>What stands in registers while a PDU is opened, step by step.</summary>
    private struct Opening
    {
        public Vector128<byte> S0, S1, S2, Mac;
        private readonly ulong _ctlToSrc;
        private readonly bool _ctl, _solicits;
        private Vector128<byte> _first;
        private uint _second;

        /// <summary>The blocks to be encrypted: A_0, A_1, A_2 and B_0.</summary>
        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public Opening(ReadOnlySpan<byte> pdu, ulong ctlToSrc, uint ivOctets, Nonce nonceType)
        {
            _ctlToSrc = ctlToSrc;
            _ctl = (ctlToSrc & 0x80) != 0;
            _solicits = nonceType == Nonce.ProxySolicitation;
            Encrypted = pdu.Length - ClearHeaderLength - (_ctl ? 8 : 4);
            // The nonce as the octets 1 to 13 of the blocks A_i and B_0 (RFC 3610 §2.2, §2.3)
            ulong low = ((nonceType == Nonce.Network ? ctlToSrc : ctlToSrc & ~0xFFUL) << 16) | ((ulong)nonceType << 8);
            ulong high = (ulong)ivOctets << 16;
            S0 = Vector128.Create(low | 0x01, high).AsByte();
            S1 = Vector128.Create(low | 0x01, high | (1UL << 56)).AsByte();
            S2 = Vector128.Create(low | 0x01, high | (2UL << 56)).AsByte();
            Mac = Vector128.Create(low | (_ctl ? 0x19u : 0x09u), high | ((ulong)(uint)(Encrypted & 0xFF) << 56)).AsByte();
        }

        /// <summary>Octets of DST and TransportPDU; fewer than <see cref="IsLongEnough"/> asks for where the PDU is none.</summary>
        public int Encrypted { get; }

        public readonly bool IsLongEnough => Encrypted >= (_solicits ? 2 : 3);

        public readonly bool HasSecond => Encrypted > AesKey.BlockLength;

        /// <summary>Decrypts the first 16 octets and adds them to the MAC.</summary>
        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public void TakeFirst(ReadOnlySpan<byte> pdu)
        {
            int kept = Math.Clamp(Encrypted, 0, AesKey.BlockLength);
            _first = (LoadEncrypted(pdu) ^ S1) & Vector128.Create(Masks[(AesKey.BlockLength - kept)..]);
            Mac ^= _first;
        }

        /// <summary>Decrypts the one or two octets behind them and adds them to the MAC. Without such octets the MAC is spoilt.</summary>
        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public void TakeSecond(ReadOnlySpan<byte> pdu)
        {
            const int at = ClearHeaderLength + AesKey.BlockLength;
            if (pdu.Length < at + 2)
                return;
            uint keep = Encrypted == AesKey.BlockLength + 1 ? 0xFFu : 0xFFFFu;
            _second = (BinaryPrimitives.ReadUInt16LittleEndian(pdu[at..]) ^ S2.AsUInt32()[0]) & keep;
            Mac ^= Vector128.CreateScalar(_second).AsByte();
        }

        /// <summary>One comparison of a whole register: the time does not tell how many octets were right.</summary>
        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public readonly bool Fits(ReadOnlySpan<byte> pdu)
        {
            ulong expected = (Mac ^ S0).AsUInt64()[0];
            ulong differs = _ctl
                ? expected ^ BinaryPrimitives.ReadUInt64LittleEndian(pdu[^8..])
                : (uint)(expected & uint.MaxValue) ^ BinaryPrimitives.ReadUInt32LittleEndian(pdu[^4..]);
            return differs == 0;
        }

        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        public readonly void Store(ReadOnlySpan<byte> pdu, Span<byte> clear) => StoreClear(clear[..pdu.Length], pdu[0], _ctlToSrc, _first, _second, Encrypted);
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
