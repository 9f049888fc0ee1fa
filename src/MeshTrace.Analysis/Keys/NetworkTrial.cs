using MeshTrace.Protocol.Network;

namespace MeshTrace.Analysis.Keys;

/// <summary>Whether octets are a Network PDU, or a proxy configuration message, that a known key opens.</summary>
internal static class NetworkTrial
{
    /// <summary>True if the NetMIC is right; null where a key has the NID but the IV index is not known yet; false otherwise.</summary>
    public static bool? Opens(KeyRing keys, ReadOnlySpan<byte> pdu)
    {
        if (!NetworkPdu.TryRead(pdu, out NetworkPdu read, out _))
            return false;
        bool unknown = false;
        Span<byte> clear = stackalloc byte[NetworkSecurity.LongestPdu];
        foreach (NetworkCandidate candidate in keys.CandidatesFor(read.Nid))
        {
            if (keys.Subnets[candidate.Subnet].IvIndex is not { } current)
            {
                unknown = true;
                continue;
            }
            uint index = (current & 1) == (read.Ivi ? 1u : 0u) ? current : current == 0 ? 1 : current - 1;
            if (NetworkSecurity.TryDecrypt(pdu, candidate.Credentials, index, clear, out _)
                || NetworkSecurity.TryDecryptProxyConfiguration(pdu, candidate.Credentials, index, clear, out _))
                return true;
        }
        return unknown ? null : false;
    }
}
