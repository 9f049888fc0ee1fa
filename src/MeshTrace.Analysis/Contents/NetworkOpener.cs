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

    /// <summary>So many contents a core takes at a time.</summary>
    private const int Piece = 256;

    /// <summary>NIDs that there are: 7 bits.</summary>
    private const int Nids = 128;

    /// <summary>Opens contents <paramref name="from"/> to the end of the table; others than mesh messages are passed over.</summary>
    public void Open(ContentTable contents, int from, OpenedPdu[] opened, int cores)
    {
        int count = contents.Count - from;
        int pieces = (count + Piece - 1) / Piece;
        if (count < ParallelFrom || cores < 2)
        {
            for (int i = 0; i < pieces; i++)
                OpenPiece(contents, from, opened, i * Piece, Math.Min(count, (i + 1) * Piece));
            return;
        }
        Parallel.For(0, pieces, new ParallelOptions { MaxDegreeOfParallelism = cores },
            i => OpenPiece(contents, from, opened, i * Piece, Math.Min(count, (i + 1) * Piece)));
    }

    /// <summary>
    /// Opens some of the contents. The first try of each, which mostly opens it, is made for many at once: those of one NID, as they are tried with the same credentials.
    /// </summary>
    private void OpenPiece(ContentTable contents, int from, OpenedPdu[] opened, int begin, int end)
    {
        Span<short> firstOfNid = stackalloc short[Nids], next = stackalloc short[Piece];     // from begin on; the list of a NID ends with -1
        firstOfNid.Fill(-1);
        for (int i = end - 1; i >= begin; i--)
        {
            opened[i] = default;
            if (FirstTryOf(contents, from + i) is null)
            {
                opened[i] = OpenOne(contents, from + i);
                continue;
            }
            ref short first = ref firstOfNid[contents[from + i].Octets[0] & (Nids - 1)];
            next[i - begin] = first;
            first = (short)(i - begin);
        }
        NetworkBatch batch = default;
        Span<short> members = stackalloc short[NetworkBatch.Capacity];
        foreach (short first in firstOfNid)
        {
            if (first < 0)
                continue;
            batch.Begin(FirstTryOf(contents, from + begin + first)!.Value.Candidate.Credentials);
            for (short i = first; i >= 0; i = next[i])
            {
                members[batch.Count] = i;
                batch.Add(contents[from + begin + i].Octets, FirstTryOf(contents, from + begin + i)!.Value.IvIndex);
                if (batch.Count == NetworkBatch.Capacity)
                    OpenBatch(contents, from + begin, opened.AsSpan(begin), ref batch, members);
            }
            OpenBatch(contents, from + begin, opened.AsSpan(begin), ref batch, members);
        }
    }

    private void OpenBatch(ContentTable contents, int from, Span<OpenedPdu> opened, ref NetworkBatch batch, scoped ReadOnlySpan<short> members)
    {
        batch.Open();
        for (int i = 0; i < batch.Count; i++)
        {
            int row = from + members[i];
            ref OpenedPdu result = ref opened[members[i]];
            (NetworkCandidate candidate, uint ivIndex) = FirstTryOf(contents, row)!.Value;
            result.Tries = 1;
            if (batch.TryTake(i, result.Clear, out int length))
                Note(candidate, ivIndex, length, ref result);
            else
                result = OpenOne(contents, row, firstTryFailed: true);
        }
        batch.Clear();
    }

    /// <summary>What is tried first for a content; null where that is not one of the first candidate's keys with the IV index that the IVI bit tells.</summary>
    private (NetworkCandidate Candidate, uint IvIndex)? FirstTryOf(ContentTable contents, int row)
    {
        ref ContentRow content = ref contents[row];
        if (!content.Kind.IsNetworkPdu() || !NetworkPdu.TryRead(content.Octets, out NetworkPdu pdu, out _))
            return null;
        IReadOnlyList<NetworkCandidate> candidates = keys.CandidatesFor(pdu.Nid);
        return candidates.Count > 0 && keys.Subnets[candidates[0].Subnet].IvIndex is { } current ? (candidates[0], NearIndex(pdu.Ivi, current)) : null;
    }

    private OpenedPdu OpenOne(ContentTable contents, int row, bool firstTryFailed = false)
    {
        OpenedPdu result = default;
        result.Tries = firstTryFailed ? (ushort)1 : (ushort)0;
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
            if (keys.Subnets[candidates[i].Subnet].IvIndex is { } current && TryNear(content.Octets, pdu.Ivi, candidates[i], current, firstTryFailed && i == 0, ref result))
                return result;
            result.State = ContentState.Failed;
        }
        for (int i = 0; i < candidates.Count; i++)
            if (keys.Subnets[candidates[i].Subnet].IvIndex is { } current && TryFar(content.Octets, pdu.Ivi, candidates[i], current, ref result))
                return result;
        return result;
    }

    /// <summary>The current index or the one before, as the IVI bit says (§3.11.5); then the next one, should an update have passed unheard.</summary>
    private static bool TryNear(ReadOnlySpan<byte> pdu, bool ivi, NetworkCandidate candidate, uint current, bool firstFailed, ref OpenedPdu result)
    {
        uint index = NearIndex(ivi, current);
        if (!firstFailed && Try(pdu, candidate, index, ref result))
            return true;
        return index < current && current < uint.MaxValue && Try(pdu, candidate, current + 1, ref result);
    }

    private static uint NearIndex(bool ivi, uint current) => (current & 1) == (ivi ? 1u : 0u) ? current : current == 0 ? 1 : current - 1;

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
        Note(candidate, ivIndex, length, ref result);
        return true;
    }

    private static void Note(NetworkCandidate candidate, uint ivIndex, int length, ref OpenedPdu result)
    {
        result.Length = (byte)length;
        result.State = ClearNetworkPdu.TryRead(result.ClearPdu, out _, out _) ? ContentState.Opened : ContentState.Malformed;
        result.Subnet = candidate.Subnet;
        result.IvIndex = ivIndex;
        result.Credentials = candidate.Credentials.Kind;
    }
}
