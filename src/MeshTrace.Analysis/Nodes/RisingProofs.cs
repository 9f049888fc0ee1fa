using System.Runtime.InteropServices;
using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Transfers;

namespace MeshTrace.Analysis.Nodes;

/// <summary>What told that a node received something; where they tell the same, the one with the higher number stands.</summary>
internal enum ToldBy : byte
{
    /// <summary>It answered a press.</summary>
    Press = 1,

    /// <summary>It acknowledged all segments.</summary>
    Transfer,

    /// <summary>It sent a Status to the requester.</summary>
    Message,
}

/// <summary>A request and what shows that it was received, in 8 octets, as there may be one for each answer of a capture.</summary>
/// <param name="Request">Row of the message that was received; below 0 it is a transfer.</param>
/// <param name="Answer">Row of the answer, or -1.</param>
internal readonly record struct Reception(int Request, int Answer)
{
    /// <summary>Row of the acknowledged transfer, or null.</summary>
    public int? Transfer => Request < 0 ? ~Request : null;

    public static Reception OfTransfer(int transfer) => new(~transfer, -1);
}

/// <summary>
/// What one node must have received from one element: in order of time, and only what raised the highest (IV index, SEQ), as its replay protection list
/// keeps it. Most proofs come in order, and many say what is known already, so little is kept and seldom something sorted.
/// </summary>
/// <param name="history">Where the requests stand.</param>
/// <param name="leastTtl">What came with the lowest TTL from the node of that element to this one.</param>
internal sealed class RisingProofs(CaptureHistory history, LeastTtlProof leastTtl)
{
    /// <summary>So far from the end a proof that comes late is put in its place; else all are sorted at the end.</summary>
    private const int NearTheEnd = 32;

    /// <summary>When each answer was heard, and what it shows.</summary>
    private readonly List<long> _times = new(1);
    private readonly List<Reception> _proofs = new(1);
    private bool _unsorted;
    private ToldBy _sinceBy;

    /// <summary>Where the proof before belonged: the next one is not far from it.</summary>
    private int _near;

    public LeastTtlProof LeastTtl => leastTtl;

    /// <summary>When the first proof told so: of those by the messages, else by the transfers, else by the presses.</summary>
    public long SinceNs { get; private set; }

    public void Add(long timeNs, in Reception proof, ToldBy by)
    {
        if (by > _sinceBy)
            (_sinceBy, SinceNs) = (by, timeNs);
        int at = _unsorted ? _proofs.Count : FirstAfter(timeNs);
        if (!_unsorted && at > 0 && !Rises(_proofs[at - 1], proof))
            return;
        if (_unsorted || _proofs.Count - at > NearTheEnd)
        {
            _times.Add(timeNs);
            _proofs.Add(proof);
            _unsorted = true;
            return;
        }
        int behind = at;
        while (behind < _proofs.Count && !Rises(proof, _proofs[behind]))
            behind++;
        if (at > 0 && _times[at - 1] == timeNs)
            at--;       // nobody can ask for the time between
        _times.RemoveRange(at, behind - at);
        _times.Insert(at, timeNs);
        _proofs.RemoveRange(at, behind - at);
        _proofs.Insert(at, proof);
    }

    /// <summary>Nothing more comes.</summary>
    public void Finish()
    {
        if (!_unsorted)
            return;
        CollectionsMarshal.AsSpan(_times).Sort(CollectionsMarshal.AsSpan(_proofs));
        int kept = 0;
        for (int i = 0; i < _proofs.Count; i++)
            if (kept == 0 || Rises(_proofs[kept - 1], _proofs[i]))
                (_times[kept], _proofs[kept++]) = (_times[i], _proofs[i]);
        _times.RemoveRange(kept, _times.Count - kept);
        _times.TrimExcess();
        _proofs.RemoveRange(kept, _proofs.Count - kept);
        _proofs.TrimExcess();
        _unsorted = false;
    }

    /// <summary>The last one before a time, or null.</summary>
    public (long TimeNs, Reception Reception)? LastBefore(long timeNs)
    {
        int near = _times.Count;
        return LastBefore(timeNs, ref near);
    }

    /// <summary>The same for searches that go on in time.</summary>
    /// <param name="timeNs">The time.</param>
    /// <param name="near">Where the search before ended, 0 for the first; where this one does.</param>
    public (long TimeNs, Reception Reception)? LastBefore(long timeNs, ref int near)
    {
        near = TimesInOrder.FirstFrom(CollectionsMarshal.AsSpan(_times), timeNs, near);
        return near == 0 ? null : (_times[near - 1], _proofs[near - 1]);
    }

    /// <summary>IV index and SEQ (of SeqAuth) of what was received.</summary>
    public (uint IvIndex, uint Seq) NumberOf(in Reception proof)
    {
        if (proof.Transfer is { } row)
            return (history.Transfers[row].IvIndex, history.Transfers[row].Seq);
        ref MessageRow request = ref history.Messages[proof.Request];
        return (request.IvIndex, request.Seq);
    }

    private bool Rises(in Reception before, in Reception after)
    {
        (uint ivIndex, uint seq) = NumberOf(in before);
        (uint laterIvIndex, uint laterSeq) = NumberOf(in after);
        return laterIvIndex > ivIndex || (laterIvIndex == ivIndex && laterSeq > seq);
    }

    private int FirstAfter(long timeNs)
    {
        int count = _times.Count;
        if (count == 0 || _times[count - 1] <= timeNs)
            return _near = count;
        return _near = TimesInOrder.FirstFrom(CollectionsMarshal.AsSpan(_times), timeNs + 1, Math.Min(_near, count));
    }
}

/// <summary>The message with the lowest TTL that got from one node to another, as far as its TTL is known.</summary>
internal sealed class LeastTtlProof
{
    private ToldBy _by;

    public ReceptionProof? Proof { get; private set; }

    /// <summary>True for a lower TTL; for the same one where it is told by what stands above.</summary>
    public bool IsSurpassedBy(byte ttl, ToldBy by) => Proof is not { } least || ttl < least.Ttl || (ttl == least.Ttl && by > _by);

    public void Take(ReceptionProof proof, ToldBy by) => (Proof, _by) = (proof, by);
}
