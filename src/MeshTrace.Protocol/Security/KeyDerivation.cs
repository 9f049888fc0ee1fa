namespace MeshTrace.Protocol.Security;

/// <summary>The derivation functions of Mesh Protocol 1.1 §3.9.2: s1, k1, k2, k3, k4 over AES-CMAC.</summary>
public static class KeyDerivation
{
    /// <summary>s1 (§3.9.2): a 16-octet salt from a text or other octets.</summary>
    public static void S1(ReadOnlySpan<byte> m, Span<byte> salt)
    {
        Span<byte> zero = stackalloc byte[AesKey.Length];
        zero.Clear();
        AesCmac.Compute(new AesKey(zero), m, salt);
    }

    /// <summary>k1 (§3.9.2): a key of 16 octets from key material N of any length, a 16-octet salt and the text P.</summary>
    public static void K1(ReadOnlySpan<byte> n, ReadOnlySpan<byte> salt, ReadOnlySpan<byte> p, Span<byte> key)
    {
        Span<byte> t = stackalloc byte[AesCmac.Length];
        AesCmac.Compute(new AesKey(salt), n, t);
        AesCmac.Compute(new AesKey(t), p, key);
        t.Clear();
    }

    /// <summary>
    /// k2 (§3.9.2): NID (7 bits), encryption key and privacy key of a NetKey. P tells the kind of credentials, 1 to 9 octets.
    /// </summary>
    public static void K2(ReadOnlySpan<byte> n, ReadOnlySpan<byte> p, out byte nid, Span<byte> encryptionKey, Span<byte> privacyKey)
    {
        Span<byte> t1 = stackalloc byte[AesCmac.Length];
        K2(n, p, t1, encryptionKey, privacyKey);
        nid = (byte)(t1[^1] & 0x7F);
    }

    /// <summary>k2 with all of T1, T2 and T3.</summary>
    internal static void K2(ReadOnlySpan<byte> n, ReadOnlySpan<byte> p, Span<byte> t1, Span<byte> t2, Span<byte> t3)
    {
        Span<byte> t = stackalloc byte[AesCmac.Length];
        SaltedKey("smk2"u8, n, t);
        var key = new AesKey(t);
        Span<byte> input = stackalloc byte[AesCmac.Length + p.Length + 1];
        p.CopyTo(input[AesCmac.Length..]);
        input[^1] = 0x01;
        AesCmac.Compute(key, input[AesCmac.Length..], t1);
        t1.CopyTo(input);
        input[^1] = 0x02;
        AesCmac.Compute(key, input, t2);
        t2.CopyTo(input);
        input[^1] = 0x03;
        AesCmac.Compute(key, input, t3);
        input.Clear();
        t.Clear();
    }

    /// <summary>k3 (§3.9.2): the 64-bit network ID of a NetKey.</summary>
    public static ulong K3(ReadOnlySpan<byte> n)
    {
        Span<byte> result = stackalloc byte[AesCmac.Length];
        SaltedKey("smk3"u8, n, result);
        AesCmac.Compute(new AesKey(result), "id64\u0001"u8, result);
        return System.Buffers.Binary.BinaryPrimitives.ReadUInt64BigEndian(result[8..]);
    }

    /// <summary>k4 (§3.9.2): the 6-bit AID of an AppKey.</summary>
    public static byte K4(ReadOnlySpan<byte> n)
    {
        Span<byte> result = stackalloc byte[AesCmac.Length];
        SaltedKey("smk4"u8, n, result);
        AesCmac.Compute(new AesKey(result), "id6\u0001"u8, result);
        return (byte)(result[^1] & 0x3F);
    }

    /// <summary>IdentityKey, BeaconKey and PrivateBeaconKey (§3.9.6.3): k1 over the NetKey with the text "id128" and 0x01.</summary>
    internal static AesKey FromNetKey(ReadOnlySpan<byte> netKey, ReadOnlySpan<byte> saltText)
    {
        Span<byte> salt = stackalloc byte[AesKey.Length], key = stackalloc byte[AesKey.Length];
        S1(saltText, salt);
        K1(netKey, salt, "id128\u0001"u8, key);
        var result = new AesKey(key);
        key.Clear();
        return result;
    }

    private static void SaltedKey(ReadOnlySpan<byte> saltText, ReadOnlySpan<byte> n, Span<byte> t)
    {
        Span<byte> salt = stackalloc byte[AesKey.Length];
        S1(saltText, salt);
        AesCmac.Compute(new AesKey(salt), n, t);
    }
}
