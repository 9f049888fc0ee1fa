using System.Runtime.Intrinsics;

namespace MeshTrace.Protocol.Security;

/// <summary>AES-CMAC (RFC 4493; Mesh Protocol 1.1 §3.9.2), allocation-free.</summary>
public static class AesCmac
{
    /// <summary>Octets of the full MAC.</summary>
    public const int Length = 16;

    /// <summary>Computes the 16 octets of the MAC. <paramref name="mac"/> may overlap the message: it is written last.</summary>
    public static void Compute(AesKey key, ReadOnlySpan<byte> message, Span<byte> mac)
    {
        Span<byte> last = stackalloc byte[AesKey.BlockLength];
        Span<byte> k1 = stackalloc byte[AesKey.BlockLength], k2 = stackalloc byte[AesKey.BlockLength];
        Subkeys(key, k1, k2);
        Vector128<byte> x = Vector128<byte>.Zero;
        while (message.Length > AesKey.BlockLength)
        {
            x = key.Encrypt(x ^ Vector128.Create(message));
            message = message[AesKey.BlockLength..];
        }
        last.Clear();
        message.CopyTo(last);
        if (message.Length == AesKey.BlockLength)
            x ^= Vector128.Create<byte>(k1);
        else
        {
            last[message.Length] = 0x80;
            x ^= Vector128.Create<byte>(k2);
        }
        key.Encrypt(x ^ Vector128.Create<byte>(last)).CopyTo(mac);
    }

    /// <summary>Subkey generation (RFC 4493 §2.3): K1 for a last block that is whole, K2 for one that was padded.</summary>
    internal static void Subkeys(AesKey key, Span<byte> k1, Span<byte> k2)
    {
        Span<byte> l = stackalloc byte[AesKey.BlockLength];
        key.Encrypt(Vector128<byte>.Zero).CopyTo(l);
        Double(l, k1);
        Double(k1, k2);
    }

    private static void Double(ReadOnlySpan<byte> value, Span<byte> doubled)
    {
        int carry = 0;
        for (int i = AesKey.BlockLength - 1; i >= 0; i--)
        {
            int shifted = (value[i] << 1) | carry;
            doubled[i] = (byte)(shifted & 0xFF);
            carry = shifted >> 8;
        }
        doubled[^1] ^= (byte)(0x87 * carry);   // Rb of RFC 4493 §2.3, without a branch on key material
    }
}
