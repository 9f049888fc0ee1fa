namespace MeshTrace.Analysis.Nodes;

/// <summary>
/// What one node must have received from one element: in order of time, and only what raised the highest (IV index, SEQ), as its replay protection list
/// keeps it. Most proofs come in order, and many say what is known already, so little is kept and seldom something sorted.
/// </summary>
internal sealed class RisingProofs
{
    /// <summary>So far from the end a proof that comes late is put in its place; else all are sorted at the end.</summary>
    private const int NearTheEnd = 32;

    private readonly List<ReceptionProof> _proofs = new(1);
    private bool _unsorted;

    public void Add(ReceptionProof proof)
    {
        int at = _unsorted ? _proofs.Count : FirstAfter(proof.TimeNs);
        if (!_unsorted && at > 0 && !Rises(_proofs[at - 1], proof))
            return;
        if (_unsorted || _proofs.Count - at > NearTheEnd)
        {
            _proofs.Add(proof);
            _unsorted = true;
            return;
        }
        int behind = at;
        while (behind < _proofs.Count && !Rises(proof, _proofs[behind]))
            behind++;
        _proofs.RemoveRange(at, behind - at);
        _proofs.Insert(at, proof);
    }

    /// <summary>Nothing more comes.</summary>
    public void Finish()
    {
        if (_unsorted)
        {
            _proofs.Sort((left, right) => left.TimeNs.CompareTo(right.TimeNs));
            int kept = 0;
            for (int i = 0; i < _proofs.Count; i++)
                if (kept == 0 || Rises(_proofs[kept - 1], _proofs[i]))
                    _proofs[kept++] = _proofs[i];
            _proofs.RemoveRange(kept, _proofs.Count - kept);
            _unsorted = false;
        }
        _proofs.TrimExcess();
    }

    /// <summary>The last one before a time, or null.</summary>
    public ReceptionProof? LastBefore(long timeNs)
    {
        int low = 0, high = _proofs.Count;
        while (low < high)
        {
            int middle = (low + high) / 2;
            if (_proofs[middle].TimeNs < timeNs)
                low = middle + 1;
            else
                high = middle;
        }
        return low == 0 ? null : _proofs[low - 1];
    }

    private static bool Rises(in ReceptionProof before, in ReceptionProof after) =>
        after.IvIndex > before.IvIndex || (after.IvIndex == before.IvIndex && after.Seq > before.Seq);

    private int FirstAfter(long timeNs)
    {
        int low = 0, high = _proofs.Count;
        if (high == 0 || _proofs[high - 1].TimeNs <= timeNs)
            return high;
        while (low < high)
        {
            int middle = (low + high) / 2;
            if (_proofs[middle].TimeNs <= timeNs)
                low = middle + 1;
            else
                high = middle;
        }
        return low;
    }
}
