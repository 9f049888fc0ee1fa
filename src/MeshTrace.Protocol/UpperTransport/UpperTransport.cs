using System.Buffers.Binary;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Protocol.UpperTransport;

/// <summary>
/// Encryption of the Upper Transport Access PDU (Mesh Protocol 1.1 §3.6.2, §3.9.7) with the application nonce (§3.9.5.2) or the device nonce
/// (§3.9.5.3). The caller gives the whole PDU: reassembly is not done here.
/// </summary>
public static class UpperTransport
{
    /// <summary>Octets of the longest Upper Transport Access PDU, TransMIC included: 32 segments of 12.</summary>
    public const int LongestAccessPdu = 384;

    /// <summary>Octets of the longest Upper Transport Control PDU: 32 segments of 8.</summary>
    public const int LongestControlPdu = 256;

    /// <summary>Decrypts <paramref name="upperPdu"/> into the access payload.</summary>
    /// <param name="upperPdu">Encrypted access payload and TransMIC (32 bits; 64 where <paramref name="szMic"/>).</param>
    /// <param name="key">An application key or, where <paramref name="deviceKey"/>, a device key.</param>
    /// <param name="seq">SEQ of SeqAuth: that of the first segment, or of the only PDU.</param>
    /// <param name="ivIndex">The IV index that the Network PDU was made with.</param>
    /// <param name="label">The 16 octets of a Label UUID for a virtual DST, else empty. Ignored with a device key.</param>
    /// <param name="accessPayload">At least upperPdu.Length octets less the TransMIC; zeroed where the answer is false.</param>
    /// <param name="length">Octets of the access payload.</param>
    /// <returns>False where the TransMIC does not fit, or there is no payload beside it.</returns>
    public static bool TryDecrypt(ReadOnlySpan<byte> upperPdu, AesKey key, bool deviceKey, bool szMic, uint seq, MeshAddress src, MeshAddress dst,
        uint ivIndex, ReadOnlySpan<byte> label, Span<byte> accessPayload, out int length)
    {
        int micLength = szMic ? 8 : 4;
        length = 0;
        if (upperPdu.Length <= micLength || upperPdu.Length > LongestAccessPdu)
        {
            accessPayload.Clear();
            return false;
        }
        Span<byte> nonce = stackalloc byte[AesCcm.NonceLength];
        WriteNonce(nonce, deviceKey, szMic, seq, src, dst, ivIndex);
        if (!AesCcm.TryDecrypt(key, nonce, upperPdu, micLength, deviceKey ? [] : label, accessPayload))
            return false;
        length = upperPdu.Length - micLength;
        return true;
    }

    /// <summary>
    /// Encrypts <paramref name="accessPayload"/> and puts the TransMIC behind it; the parameters are those of TryDecrypt.
    /// </summary>
    /// <returns>Octets of the Upper Transport Access PDU.</returns>
    /// <exception cref="ArgumentException">The payload is empty or too long, or the destination is too short.</exception>
    public static int Encrypt(ReadOnlySpan<byte> accessPayload, AesKey key, bool deviceKey, bool szMic, uint seq, MeshAddress src, MeshAddress dst,
        uint ivIndex, ReadOnlySpan<byte> label, Span<byte> upperPdu)
    {
        int micLength = szMic ? 8 : 4;
        if (accessPayload.IsEmpty || accessPayload.Length + micLength > LongestAccessPdu)
            throw new ArgumentException("An access payload has 1 to 380 octets, or 376 with a 64-bit TransMIC.", nameof(accessPayload));
        Span<byte> nonce = stackalloc byte[AesCcm.NonceLength];
        WriteNonce(nonce, deviceKey, szMic, seq, src, dst, ivIndex);
        AesCcm.Encrypt(key, nonce, accessPayload, micLength, deviceKey ? [] : label, upperPdu);
        return accessPayload.Length + micLength;
    }

    /// <summary>Nonce type 0x01 (application) or 0x02 (device) | ASZMIC(1) | Pad(7) | SEQ(24) | SRC(16) | DST(16) | IV index(32).</summary>
    internal static void WriteNonce(Span<byte> nonce, bool deviceKey, bool szMic, uint seq, MeshAddress src, MeshAddress dst, uint ivIndex)
    {
        BinaryPrimitives.WriteUInt32BigEndian(nonce[1..], (szMic ? 0x80000000u : 0u) | (seq & 0xFFFFFF));
        nonce[0] = (byte)(deviceKey ? 0x02 : 0x01);
        BinaryPrimitives.WriteUInt16BigEndian(nonce[5..], src.Value);
        BinaryPrimitives.WriteUInt16BigEndian(nonce[7..], dst.Value);
        BinaryPrimitives.WriteUInt32BigEndian(nonce[9..], ivIndex);
    }
}
