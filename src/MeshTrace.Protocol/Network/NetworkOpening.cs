using System.Buffers.Binary;
using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Protocol.Network;

/// <summary>
/// One Network PDU while it is opened (Mesh Protocol 1.1 §3.9.7, RFC 3610), step by step; who calls the steps encrypts the blocks between them.
/// <see cref="Open"/> shows their order.
/// </summary>
/// <remarks>
/// No step branches on CTL or on the length, which differ from PDU to PDU: a wrong guess of the processor costs more than the step. For the same reason numbers stay in the
/// vectors, each octet of them the same number, and nothing is stored octet by octet and loaded as a whole.
/// </remarks>
internal struct NetworkOpening
{
    /// <summary>IVI and NID, then CTL, TTL, SEQ and SRC, which are obfuscated.</summary>
    public const int ClearHeaderLength = 7;

    /// <summary>Octets of a NetMIC with CTL 0. With CTL 1 it has as many again.</summary>
    private const int ShortMicLength = 4;

    /// <summary>An index that a shuffle answers with 0, on every processor.</summary>
    private const byte No = 0xFF;

    /// <summary>Octets 0 to 15 of the PDU and 16 to 31, 0 behind its end. After <see cref="Deobfuscate"/> CTL to SRC are clear.</summary>
    private Vector128<byte> _low, _high;

    /// <summary>How many octets DST and TransportPDU have, in each octet. Before <see cref="Deobfuscate"/> as if CTL was 0.</summary>
    private Vector128<sbyte> _encrypted;

    private ulong _lastEight;
    private uint _ivIndex;
    private int _length;

    /// <summary>A window into this at n moves octets down by n, and 0 behind.</summary>
    private static ReadOnlySpan<byte> Moved =>
        [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, No, No, No, No, No, No, No, No, No, No, No, No, No, No, No, No];

    /// <summary>Takes the octets of a PDU. One that has not 14 to 29 octets is not long enough later.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public void Begin(ReadOnlySpan<byte> pdu, uint ivIndex)
    {
        ref byte first = ref MemoryMarshal.GetReference(pdu);
        if (pdu.Length is >= AesKey.BlockLength and <= NetworkSecurity.LongestPdu)
        {
            Vector128<byte> last = Vector128.LoadUnsafe(ref first, (uint)(pdu.Length - AesKey.BlockLength));
            _low = Vector128.LoadUnsafe(ref first);
            _high = Vector128.ShuffleNative(last, Vector128.LoadUnsafe(ref MemoryMarshal.GetReference(Moved), (uint)((2 * AesKey.BlockLength) - pdu.Length)));
            _lastEight = last.AsUInt64()[1];
        }
        else if (pdu.Length is >= NetworkPdu.ShortestLength and < AesKey.BlockLength)
        {
            _lastEight = BinaryPrimitives.ReadUInt64LittleEndian(pdu[^8..]);
            _low = Vector128.Create(BinaryPrimitives.ReadUInt64LittleEndian(pdu), _lastEight >> (8 * (AesKey.BlockLength - pdu.Length))).AsByte();
            _high = default;
        }
        else
        {
            this = default;
            return;
        }
        _encrypted = Vector128.Create((sbyte)(pdu.Length - ClearHeaderLength - ShortMicLength));
        _ivIndex = ivIndex;
        _length = pdu.Length;
    }

    /// <summary>0 (40 bits), IV index and PrivacyRandom, the first seven octets of what is encrypted (§3.9.7).</summary>
    public readonly Vector128<byte> PrivacyPlaintext
    {
        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        get => Vector128.Shuffle(_low, Vector128.Create(No, No, No, No, No, No, No, No, No, 7, 8, 9, 10, 11, 12, 13))
            | Vector128.Shuffle(Vector128.CreateScalar(_ivIndex).AsByte(), Vector128.Create(No, No, No, No, No, 3, 2, 1, 0, No, No, No, No, No, No, No));
    }

    /// <summary>Octets of the clear PDU.</summary>
    public readonly int ClearLength => ClearHeaderLength + _encrypted.ToScalar();

    /// <summary>More than one block is encrypted, so the MAC takes a second one.</summary>
    private readonly bool HasSecond => _encrypted.ToScalar() > AesKey.BlockLength;

    /// <summary>What A_1 and A_2 differ in from A_0.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static Vector128<byte> Counter(byte counter) => Vector128.Create(0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, counter);

    /// <summary>All steps to the NetMIC, for <see cref="Fits"/> and <see cref="Store"/>.</summary>
    /// <param name="privacy">The PrivacyKey.</param>
    /// <param name="encryption">The EncryptionKey.</param>
    /// <param name="nonceType">Which nonce.</param>
    /// <param name="first">What <see cref="DecryptFirst"/> gives.</param>
    /// <param name="second">What <see cref="DecryptSecond"/> gives.</param>
    /// <returns>The last block of the MAC XOR S_0; 0, as the plaintext, where the length is none of a Network PDU.</returns>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public Vector128<byte> Open(AesKey privacy, AesKey encryption, NetworkSecurity.Nonce nonceType, out Vector128<byte> first, out Vector128<byte> second)
    {
        Vector128<byte> s0 = Deobfuscate(privacy.Encrypt(PrivacyPlaintext), nonceType, out Vector128<byte> mac);
        if (!IsLongEnough(nonceType))
            return first = second = default;
        Vector128<byte> s1 = s0 ^ Counter(1), s2 = s0 ^ Counter(2);
        encryption.Encrypt(ref s0, ref s1, ref s2, ref mac);
        (first, second) = (DecryptFirst(s1), DecryptSecond(s2));
        mac = encryption.Encrypt(mac ^ first);
        if (HasSecond)
            mac = encryption.Encrypt(mac ^ second);
        return mac ^ s0;
    }

    /// <summary>CTL, TTL, SEQ and SRC: XOR with the first six octets of the encrypted <see cref="PrivacyPlaintext"/>.</summary>
    /// <param name="pecb">The encrypted <see cref="PrivacyPlaintext"/>.</param>
    /// <param name="nonceType">Which nonce.</param>
    /// <param name="b0">The block B_0 (RFC 3610 §2.2): flags, which tell the octets of the MIC; nonce; octets encrypted.</param>
    /// <returns>The block A_0 (RFC 3610 §2.3): flags, nonce in octets 1 to 13, counter.</returns>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public Vector128<byte> Deobfuscate(Vector128<byte> pecb, NetworkSecurity.Nonce nonceType, out Vector128<byte> b0)
    {
        Vector128<byte> low = _low ^ Vector128.Shuffle(pecb, Vector128.Create(No, 0, 1, 2, 3, 4, 5, No, No, No, No, No, No, No, No, No));
        Vector128<byte> ctl = Vector128.LessThan(Vector128.Shuffle(low, Vector128<byte>.One).AsSByte(), Vector128<sbyte>.Zero).AsByte();
        Vector128<sbyte> encrypted = _encrypted - (ctl & Vector128.Create((byte)ShortMicLength)).AsSByte();
        Vector128<byte> ctlToSrc = nonceType == NetworkSecurity.Nonce.Network
            ? Vector128.Create(No, No, 1, 2, 3, 4, 5, 6, No, No, No, No, No, No, No, No)
            : Vector128.Create(No, No, No, 2, 3, 4, 5, 6, No, No, No, No, No, No, No, No);
        Vector128<byte> a0 = Vector128.Shuffle(low, ctlToSrc)
            | Vector128.Shuffle(Vector128.CreateScalar(_ivIndex).AsByte(), Vector128.Create(No, No, No, No, No, No, No, No, No, No, 3, 2, 1, 0, No, No))
            | Vector128.CreateScalar(0x01u | ((uint)nonceType << 8)).AsByte();
        b0 = a0 | Vector128.CreateScalar((byte)0x08) | (ctl & Vector128.CreateScalar((byte)0x10)) | (encrypted.AsByte() & Vector128.Create(0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0xFF));
        _low = low;
        _encrypted = encrypted;
        return a0;
    }

    /// <summary>As long as a PDU with this nonce is at least: DST and, but for a Solicitation PDU (§6.9.1), an octet of TransportPDU.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private readonly bool IsLongEnough(NetworkSecurity.Nonce nonceType) => _encrypted.ToScalar() >= (nonceType == NetworkSecurity.Nonce.ProxySolicitation ? 2 : 3);

    /// <summary>The plaintext of the first 16 octets of DST and TransportPDU, 0 behind its end.</summary>
    /// <param name="s1">The encrypted A_1.</param>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public readonly Vector128<byte> DecryptFirst(Vector128<byte> s1)
    {
        Vector128<byte> block = Vector128.Shuffle(_low, Vector128.Create(7, 8, 9, 10, 11, 12, 13, 14, 15, No, No, No, No, No, No, No))
            | Vector128.Shuffle(_high, Vector128.Create(No, No, No, No, No, No, No, No, No, 0, 1, 2, 3, 4, 5, 6));
        return (block ^ s1) & Vector128.GreaterThan(_encrypted, Vector128<sbyte>.Indices).AsByte();
    }

    /// <summary>The plaintext of what follows them, at most two octets, 0 behind its end.</summary>
    /// <param name="s2">The encrypted A_2.</param>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public readonly Vector128<byte> DecryptSecond(Vector128<byte> s2)
    {
        Vector128<byte> rest = Vector128.Shuffle(_high, Vector128.Create(7, 8, No, No, No, No, No, No, No, No, No, No, No, No, No, No));
        return (rest ^ s2) & Vector128.GreaterThan(_encrypted, Vector128<sbyte>.Indices + Vector128.Create((sbyte)AesKey.BlockLength)).AsByte();
    }

    /// <summary>The block of the MAC that counts: the one over <see cref="DecryptSecond"/> where there is one.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public readonly Vector128<byte> LastMacBlock(Vector128<byte> overFirst, Vector128<byte> overSecond) =>
        Vector128.ConditionalSelect(Vector128.GreaterThan(_encrypted, Vector128.Create((sbyte)AesKey.BlockLength)).AsByte(), overSecond, overFirst);

    /// <summary>Whether this is the NetMIC of a PDU that is long enough: one comparison, whose time does not tell how many octets were right.</summary>
    /// <param name="mic">The last block of the MAC XOR the encrypted A_0.</param>
    /// <param name="nonceType">Which nonce.</param>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public readonly bool Fits(Vector128<byte> mic, NetworkSecurity.Nonce nonceType)
    {
        int other = (~_low[1] & 0x80) >> 2;  // bits of the last eight octets that stand in front of the NetMIC: 32 with CTL 0, none with CTL 1
        return (((mic.AsUInt64()[0] << other) ^ _lastEight) >> other) == 0 && IsLongEnough(nonceType);
    }

    /// <summary>Writes the clear PDU, and 0 behind it up to the octets of the PDU, or to 32 octets where the destination has them.</summary>
    /// <param name="first">Of <see cref="DecryptFirst"/>.</param>
    /// <param name="second">Of <see cref="DecryptSecond"/>.</param>
    /// <param name="clear">At least as many octets as the PDU has.</param>
    /// <exception cref="ArgumentException">The destination is shorter than the PDU.</exception>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public readonly void Store(Vector128<byte> first, Vector128<byte> second, Span<byte> clear)
    {
        Vector128<byte> low = (_low & Vector128.Create(0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0, 0, 0, 0, 0, 0, 0, 0, 0))
            | Vector128.Shuffle(first, Vector128.Create(No, No, No, No, No, No, No, 0, 1, 2, 3, 4, 5, 6, 7, 8));
        Vector128<byte> high = Vector128.Shuffle(first, Vector128.Create(9, 10, 11, 12, 13, 14, 15, No, No, No, No, No, No, No, No, No))
            | Vector128.Shuffle(second, Vector128.Create(No, No, No, No, No, No, No, 0, 1, No, No, No, No, No, No, No));
        if (clear.Length >= 2 * AesKey.BlockLength)
        {
            ref byte start = ref MemoryMarshal.GetReference(clear);
            low.StoreUnsafe(ref start);
            high.StoreUnsafe(ref start, AesKey.BlockLength);
        }
        else
        {
            StoreExactly(low, high, clear[.._length]);
        }
    }

    private static void StoreExactly(Vector128<byte> low, Vector128<byte> high, Span<byte> clear)
    {
        Span<byte> whole = stackalloc byte[2 * AesKey.BlockLength];
        low.CopyTo(whole);
        high.CopyTo(whole[AesKey.BlockLength..]);
        whole[..clear.Length].CopyTo(clear);
    }
}
