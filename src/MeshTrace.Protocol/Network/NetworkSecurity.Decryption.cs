using System.Runtime.Intrinsics;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Protocol.Network;

/// <remarks>
/// The way in is composed by hand, because it is taken for each PDU of a capture. What is encrypted is at most 18 octets, so CCM needs the blocks
/// S_0, S_1, S_2 and B_0, none of which waits for another, and then one or two chained blocks of the MAC. With the block of the obfuscation in
/// front, a PDU costs the latency of three or four blocks. <see cref="NetworkBatch"/> hides that latency behind other PDUs.
/// </remarks>
public static partial class NetworkSecurity
{
    private static bool TryDecrypt(ReadOnlySpan<byte> pdu, NetworkCredentials credentials, uint ivIndex, Nonce nonceType, Span<byte> clear,
        out int length)
    {
        length = 0;
        if (pdu.Length is < NetworkPdu.ShortestLength or > LongestPdu)
            return false;
        if (clear.Length < pdu.Length)
            throw new ArgumentException("The destination is shorter than the PDU.", nameof(clear));

        NetworkOpening opening = default;
        opening.Begin(pdu, ivIndex);
        Vector128<byte> mic = opening.Open(credentials.PrivacyKey, credentials.EncryptionKey, nonceType, out Vector128<byte> first, out Vector128<byte> second);
        if (!opening.Fits(mic, nonceType))
            return false;
        length = opening.ClearLength;
        opening.Store(first, second, clear);
        return true;
    }
}
