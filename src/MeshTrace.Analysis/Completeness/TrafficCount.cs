using MeshTrace.Analysis.Contents;
using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Completeness;

/// <summary>Counts the Network PDUs, and of those that no key opened how many there are of each NID.</summary>
internal sealed class TrafficCount(CaptureHistory history)
{
    private const int Nids = 128;

    private readonly int[] _pdus = new int[Nids];
    private readonly long[] _copies = new long[Nids];
    private readonly bool[] _keyMatches = new bool[Nids];
    private int _distinct, _opened;

    /// <summary>Counts distinct Network PDUs.</summary>
    /// <param name="from">Row of the first content.</param>
    /// <param name="to">Row behind the last one.</param>
    public void TakeContents(int from, int to)
    {
        for (int row = from; row < to; row++)
        {
            ref ContentRow content = ref history.Contents[row];
            if (!content.Kind.IsNetworkPdu() || content.State == ContentState.Malformed || IsToldTwice(in content))
                continue;
            _distinct++;
            if (content.State == ContentState.Opened)
                _opened++;
            else
            {
                int nid = content.Octets[0] & 0x7F;
                _pdus[nid]++;
                _keyMatches[nid] |= content.State == ContentState.Failed;
            }
        }
    }

    /// <summary>Counts a copy of a Network PDU, if it is one that no key opened.</summary>
    public void CountUnopened(in ContentRow content)
    {
        if (content.State is ContentState.NoKey or ContentState.Failed)
            _copies[content.Octets[0] & (Nids - 1)]++;
    }

    /// <summary>Adds what was counted over other contents and copies.</summary>
    public void Join(TrafficCount other)
    {
        for (int nid = 0; nid < Nids; nid++)
        {
            _pdus[nid] += other._pdus[nid];
            _copies[nid] += other._copies[nid];
            _keyMatches[nid] |= other._keyMatches[nid];
        }
        _distinct += other._distinct;
        _opened += other._opened;
    }

    public void Conclude()
    {
        history.DistinctNetworkPdus = _distinct;
        history.OpenedNetworkPdus = _opened;
        history.UnknownNids = [.. Enumerable.Range(0, Nids).Where(nid => _pdus[nid] > 0)
            .Select(nid => new UnknownNid((byte)nid, _pdus[nid], _copies[nid], _keyMatches[nid])).OrderByDescending(nid => nid.Copies)];
    }

    /// <summary>Heard on the air as well: it is one Network PDU.</summary>
    private bool IsToldTwice(in ContentRow content) => content.Kind != ContentKind.MeshMessage && history.Contents.Contains(ContentKind.MeshMessage, content.Octets);
}
