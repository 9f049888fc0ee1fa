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

    /// <summary>So many PDUs are opened at once.</summary>
    private const int Together = 4;

    /// <summary>Opens contents <paramref name="from"/> to the end of the table; others than mesh messages are passed over.</summary>
    public void Open(ContentTable contents, int from, OpenedPdu[] opened, int cores)
    {
        int count = contents.Count - from;
        if (count < ParallelFrom || cores < 2)
        {
            OpenRun(contents, from, opened, 0, count);
            return;
        }
        const int piece = 256;
        Parallel.For(0, (count + piece - 1) / piece, new ParallelOptions { MaxDegreeOfParallelism = cores },
            at => OpenRun(contents, from, opened, at * piece, Math.Min(count, (at + 1) * piece)));
    }

    /// <summary>
    /// Opens some of the contents. The first try of each, which mostly opens it, is made for four at once.
    /// </summary>
    private void OpenRun(ContentTable contents, int from, OpenedPdu[] opened, int begin, int end)
    {
        Span<int> waiting = stackalloc int[Together];
        int count = 0;
        for (int i = begin; i < end; i++)
        {
            opened[i] = default;
            if (FirstTryOf(contents, from + i) is null)
            {
                opened[i] = OpenOne(contents, from + i);
                continue;
            }
            waiting[count++] = i;
            if (count < Together)
                continue;
            count = 0;
            OpenFour(contents, from, opened, waiting);
        }
        foreach (int i in waiting[..count])
            opened[i] = OpenOne(contents, from + i);
    }

    private void OpenFour(ContentTable contents, int from, OpenedPdu[] opened, ReadOnlySpan<int> at)
    {
        NetworkTask a = TaskOf(contents, from, opened, at[0]), b = TaskOf(contents, from, opened, at[1]), c = TaskOf(contents, from, opened, at[2]), d = TaskOf(contents, from, opened, at[3]);
        NetworkSecurity.DecryptFour(ref a, ref b, ref c, ref d);
        Conclude(contents, from + at[0], ref opened[at[0]], in a);
        Conclude(contents, from + at[1], ref opened[at[1]], in b);
        Conclude(contents, from + at[2], ref opened[at[2]], in c);
        Conclude(contents, from + at[3], ref opened[at[3]], in d);
    }

    private NetworkTask TaskOf(ContentTable contents, int from, OpenedPdu[] opened, int at)
    {
        (NetworkCandidate candidate, uint ivIndex) = FirstTryOf(contents, from + at)!.Value;
        return new NetworkTask(contents[from + at].Octets, candidate.Credentials, ivIndex, opened[at].Clear);
    }

    private void Conclude(ContentTable contents, int row, ref OpenedPdu result, in NetworkTask task)
    {
        (NetworkCandidate candidate, uint ivIndex) = FirstTryOf(contents, row)!.Value;
        result.Tries = 1;
        if (task.Length > 0)
            Note(candidate, ivIndex, task.Length, ref result);
        else
            result = OpenOne(contents, row, firstTryFailed: true);
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
