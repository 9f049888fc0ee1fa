using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol.Network;

namespace MeshTrace.Analysis.Contents;

/// <summary>
/// Opens Network PDUs: finds the keys by NID, the IV index by the IVI bit, and believes only the NetMIC. While it runs over a batch,
/// key ring and IV indexes stand still; so it may run on all cores.
/// </summary>
internal sealed class NetworkOpener(KeyRing keys)
{
    /// <summary>How far behind the current IV index a node may be and still be recognised (recovery reaches 42, Mesh Protocol 1.1 §3.11.6).</summary>
    private const uint FarthestBehind = 42;

    /// <summary>How far ahead of what we know the network may have moved while nothing told us.</summary>
    private const uint FarthestAhead = 4;

    /// <summary>Below this many contents the work is not worth a second core.</summary>
    private const int ParallelFrom = 512;

    /// <summary>Opens contents <paramref name="from"/> to the end of the table; others than mesh messages are passed over.</summary>
    public void Open(ContentTable contents, int from, OpenedPdu[] opened, int cores)
    {
        int count = contents.Count - from;
        if (count < ParallelFrom || cores < 2)
        {
            for (int i = 0; i < count; i++)
                opened[i] = OpenOne(contents, from + i);
            return;
        }
        const int piece = 256;
        Parallel.For(0, (count + piece - 1) / piece, new ParallelOptions { MaxDegreeOfParallelism = cores }, at =>
        {
            int end = Math.Min(count, (at + 1) * piece);
            for (int i = at * piece; i < end; i++)
                opened[i] = OpenOne(contents, from + i);
        });
    }

    private OpenedPdu OpenOne(ContentTable contents, int row)
    {
        OpenedPdu result = default;
        ref ContentRow content = ref contents[row];
        if (!content.Kind.IsNetworkPdu())
            return result;
        if (!NetworkPdu.TryRead(content.Octets, out NetworkPdu pdu, out _))
        {
            result.State = ContentState.Malformed;
            return result;
        }
        result.State = ContentState.NoKey;
        IReadOnlyList<NetworkCandidate> candidates = keys.CandidatesFor(pdu.Nid);
        for (int i = 0; i < candidates.Count; i++)
        {
            if (keys.Subnets[candidates[i].Subnet].IvIndex is { } current && TryNear(content.Octets, pdu.Ivi, candidates[i], current, ref result))
                return result;
            result.State = ContentState.Failed;
        }
        for (int i = 0; i < candidates.Count; i++)
            if (keys.Subnets[candidates[i].Subnet].IvIndex is { } current && TryFar(content.Octets, pdu.Ivi, candidates[i], current, ref result))
                return result;
        return result;
    }

    /// <summary>The current index or the one before, as the IVI bit says (§3.11.5); then the next one, should an update have passed unheard.</summary>
    private static bool TryNear(ReadOnlySpan<byte> pdu, bool ivi, NetworkCandidate candidate, uint current, ref OpenedPdu result)
    {
        uint index = (current & 1) == (ivi ? 1u : 0u) ? current : current == 0 ? 1 : current - 1;
        if (Try(pdu, candidate, index, ref result))
            return true;
        return index < current && current < uint.MaxValue && Try(pdu, candidate, current + 1, ref result);
    }

    private static bool TryFar(ReadOnlySpan<byte> pdu, bool ivi, NetworkCandidate candidate, uint current, ref OpenedPdu result)
    {
        uint parity = ivi ? 1u : 0u;
        for (uint behind = 2; behind <= FarthestBehind && behind <= current; behind++)
            if (((current - behind) & 1) == parity && Try(pdu, candidate, current - behind, ref result))
                return true;
        for (uint ahead = 2; ahead <= FarthestAhead && ahead <= uint.MaxValue - current; ahead++)
            if (((current + ahead) & 1) == parity && Try(pdu, candidate, current + ahead, ref result))
                return true;
        return false;
    }

    private static bool Try(ReadOnlySpan<byte> pdu, NetworkCandidate candidate, uint ivIndex, ref OpenedPdu result)
    {
        result.Tries++;
        if (!NetworkSecurity.TryDecrypt(pdu, candidate.Credentials, ivIndex, result.Clear, out int length))
            return false;
        result.Length = (byte)length;
        result.State = ClearNetworkPdu.TryRead(result.ClearPdu, out _, out _) ? ContentState.Opened : ContentState.Malformed;
        result.Subnet = candidate.Subnet;
        result.IvIndex = ivIndex;
        result.Credentials = candidate.Credentials.Kind;
        return true;
    }
}
