using System.Buffers.Binary;
using System.Runtime.CompilerServices;
using System.Runtime.Intrinsics;
using System.Security.Cryptography;

namespace MeshTrace.Protocol.Security;

/// <summary>
/// AES-CCM (RFC 3610; Mesh Protocol 1.1 §3.9.2) with the mesh's 13-octet nonce and a MIC of 4 or 8 octets. Neither direction allocates,
/// and a wrong MIC is an answer, not an exception.
/// </summary>
public static class AesCcm
{
    /// <summary>Octets of every nonce of the mesh.</summary>
    public const int NonceLength = 13;

    /// <summary>
    /// Decrypts <paramref name="cipherAndMic"/> into <paramref name="plain"/> (at least cipherAndMic.Length - micLength octets; not the same memory).
    /// </summary>
    /// <returns>False where the MIC does not fit, or the octets are fewer than the MIC: <paramref name="plain"/> is zeroed then.</returns>
    /// <exception cref="ArgumentException">Nonce, MIC length or destination is none of those that the mesh uses.</exception>
    public static bool TryDecrypt(AesKey key, ReadOnlySpan<byte> nonce, ReadOnlySpan<byte> cipherAndMic, int micLength,
        ReadOnlySpan<byte> additional, Span<byte> plain)
    {
        CheckMeshLengths(nonce, micLength);
        return TryDecryptGeneral(key, nonce, cipherAndMic, micLength, additional, plain);
    }

    /// <summary>Encrypts <paramref name="plain"/> and puts the MIC behind it: plain.Length + micLength octets are written.</summary>
    /// <exception cref="ArgumentException">Nonce, MIC length or destination is none of those that the mesh uses.</exception>
    public static void Encrypt(AesKey key, ReadOnlySpan<byte> nonce, ReadOnlySpan<byte> plain, int micLength, ReadOnlySpan<byte> additional,
        Span<byte> cipherAndMic)
    {
        CheckMeshLengths(nonce, micLength);
        EncryptGeneral(key, nonce, plain, micLength, additional, cipherAndMic);
    }

    /// <summary>Any nonce of 7 to 13 octets and any even MIC length of 4 to 16 octets (RFC 3610 §2).</summary>
    internal static bool TryDecryptGeneral(AesKey key, ReadOnlySpan<byte> nonce, ReadOnlySpan<byte> cipherAndMic, int micLength,
        ReadOnlySpan<byte> additional, Span<byte> plain)
    {
        int length = cipherAndMic.Length - micLength;
        if (length < 0)
        {
            plain.Clear();
            return false;
        }
        if (plain.Length < length)
            throw new ArgumentException("The destination is shorter than the plaintext.", nameof(plain));
        Vector128<byte> mac = Run(key, nonce, cipherAndMic[..length], micLength, additional, plain[..length], decrypt: true);
        if (DiffersFrom(mac, cipherAndMic[length..]))
        {
            plain[..length].Clear();
            return false;
        }
        return true;
    }

    /// <inheritdoc cref="TryDecryptGeneral"/>
    internal static void EncryptGeneral(AesKey key, ReadOnlySpan<byte> nonce, ReadOnlySpan<byte> plain, int micLength,
        ReadOnlySpan<byte> additional, Span<byte> cipherAndMic)
    {
        if (cipherAndMic.Length < plain.Length + micLength)
            throw new ArgumentException("The destination is shorter than ciphertext and MIC.", nameof(cipherAndMic));
        Vector128<byte> mac = Run(key, nonce, plain, micLength, additional, cipherAndMic[..plain.Length], decrypt: false);
        Span<byte> whole = stackalloc byte[AesKey.BlockLength];
        mac.CopyTo(whole);
        whole[..micLength].CopyTo(cipherAndMic[plain.Length..]);
    }

    /// <summary>Compares in a time that does not depend on where the octets differ.</summary>
    private static bool DiffersFrom(Vector128<byte> mac, ReadOnlySpan<byte> mic)
    {
        Span<byte> whole = stackalloc byte[AesKey.BlockLength];
        mac.CopyTo(whole);
        return !CryptographicOperations.FixedTimeEquals(whole[..mic.Length], mic);
    }

    /// <summary>Counter mode over the octets and, interleaved with it, the CBC-MAC over the plaintext; gives T XOR S_0.</summary>
    private static Vector128<byte> Run(AesKey key, ReadOnlySpan<byte> nonce, ReadOnlySpan<byte> input, int micLength,
        ReadOnlySpan<byte> additional, Span<byte> output, bool decrypt)
    {
        int lengthOctets = AesKey.BlockLength - 1 - nonce.Length;   // L of RFC 3610
        Span<byte> block = stackalloc byte[AesKey.BlockLength];
        block.Clear();
        nonce.CopyTo(block[1..]);
        block[0] = (byte)(lengthOctets - 1);
        Vector128<byte> counterBlock = Vector128.Create<byte>(block);

        uint remaining = (uint)input.Length;
        for (int i = AesKey.BlockLength - 1; remaining != 0 && i > nonce.Length; i--, remaining >>= 8)
            block[i] = (byte)(remaining & 0xFF);
        if (remaining != 0)
            throw new ArgumentException("The message is too long for the length field that this nonce leaves.", nameof(input));
        block[0] = (byte)((additional.IsEmpty ? 0 : 0x40) | ((micLength - 2) / 2 << 3) | (lengthOctets - 1));

        Vector128<byte> s0 = counterBlock, s = WithCounter(counterBlock, 1), x = Vector128.Create<byte>(block), unused = x;
        key.Encrypt(ref s0, ref s, ref x, ref unused);   // three blocks that do not wait for each other
        if (!additional.IsEmpty)
            x = AddAdditional(key, x, additional, block);

        uint counter = 1;
        while (input.Length >= AesKey.BlockLength)
        {
            Vector128<byte> text = Vector128.Create(input);
            Vector128<byte> result = text ^ s;
            result.CopyTo(output);
            x ^= decrypt ? result : text;
            s = WithCounter(counterBlock, ++counter);
            key.Encrypt(ref x, ref s);
            input = input[AesKey.BlockLength..];
            output = output[AesKey.BlockLength..];
        }
        if (!input.IsEmpty)
        {
            Span<byte> last = stackalloc byte[AesKey.BlockLength];
            last.Clear();
            input.CopyTo(last);
            s.CopyTo(block);
            for (int i = 0; i < input.Length; i++)
                output[i] = (byte)(input[i] ^ block[i]);
            if (decrypt)
                output[..input.Length].CopyTo(last);
            x = key.Encrypt(x ^ Vector128.Create<byte>(last));
        }
        return x ^ s0;
    }

    private static Vector128<byte> AddAdditional(AesKey key, Vector128<byte> x, ReadOnlySpan<byte> additional, Span<byte> block)
    {
        // RFC 3610 §2.2: the length in two octets up to 0xFEFF, else 0xFFFE and the length in four
        block.Clear();
        int at;
        if (additional.Length < 0xFF00)
        {
            BinaryPrimitives.WriteUInt16BigEndian(block, (ushort)additional.Length);
            at = 2;
        }
        else
        {
            BinaryPrimitives.WriteUInt16BigEndian(block, 0xFFFE);
            BinaryPrimitives.WriteInt32BigEndian(block[2..], additional.Length);
            at = 6;
        }
        while (!additional.IsEmpty)
        {
            int take = Math.Min(AesKey.BlockLength - at, additional.Length);
            additional[..take].CopyTo(block[at..]);
            x = key.Encrypt(x ^ Vector128.Create<byte>(block));
            additional = additional[take..];
            block.Clear();
            at = 0;
        }
        return x;
    }

    /// <summary>The counter's low 32 bits are enough: no message here has 2^32 blocks. Its octets stand last and are zero before.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static Vector128<byte> WithCounter(Vector128<byte> counterBlock, uint counter) =>
        counterBlock ^ Vector128.Create(0u, 0u, 0u, BinaryPrimitives.ReverseEndianness(counter)).AsByte();

    private static void CheckMeshLengths(ReadOnlySpan<byte> nonce, int micLength)
    {
        if (nonce.Length != NonceLength)
            throw new ArgumentException("A nonce has 13 octets.", nameof(nonce));
        if (micLength is not (4 or 8))
            throw new ArgumentException("A MIC has 4 or 8 octets.", nameof(micLength));
    }
}
