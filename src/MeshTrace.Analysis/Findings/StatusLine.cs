using System.Runtime.InteropServices;
using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Findings;

/// <summary>The Status messages of one kind that an element sent. Their times stand beside them: a search does not go over the table of messages.</summary>
/// <param name="opcode">Of all of them.</param>
internal sealed class StatusLine(uint opcode)
{
    private readonly List<int> _rows = [];
    private long[] _times = [];
    private bool _inOrder = true;

    public uint Opcode => opcode;

    /// <summary>Rows of the messages, in the order heard.</summary>
    public ReadOnlySpan<int> Rows => CollectionsMarshal.AsSpan(_rows);

    /// <summary>When each was heard: in order, save where several files were read.</summary>
    public ReadOnlySpan<long> Times => _times;

    public void Add(int row) => _rows.Add(row);

    /// <summary>Nothing more comes.</summary>
    public void Finish(CaptureHistory history)
    {
        _times = new long[_rows.Count];
        for (int at = 0; at < _times.Length; at++)
        {
            _times[at] = history.Messages[_rows[at]].TimeNs;
            _inOrder &= at == 0 || _times[at] >= _times[at - 1];
        }
    }

    /// <summary>Place of the first one from a time on.</summary>
    /// <param name="timeNs">The time.</param>
    /// <param name="near">A place near which it may be, 0 to their number.</param>
    public int FirstFrom(long timeNs, int near)
    {
        if (_inOrder)
            return TimesInOrder.FirstFrom(_times, timeNs, near);
        int low = 0, high = _times.Length;
        while (low < high)
        {
            int middle = (low + high) / 2;
            if (_times[middle] < timeNs)
                low = middle + 1;
            else
                high = middle;
        }
        return low;
    }
}
