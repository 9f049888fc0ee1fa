using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Presses;

/// <summary>
/// The states that elements told in their Status messages. A server that publishes does so when its state changes (Mesh Protocol 1.1 §3.7.5.1.2): one that
/// is asked for the state it has already stays silent, and that silence says nothing.
/// </summary>
internal sealed class StatesTold
{
    /// <summary>
    /// Asked by two within a short time, a server may tell the later state first: each Status waits 20 to 500 ms (Mesh Protocol 1.1 §3.7.3.1) and takes its own way (the
    /// time is ours).
    /// </summary>
    private const long OutOfOrderNs = 1_000_000_000;

    private readonly CaptureHistory _history;

    /// <summary>Their rows, in the order heard, and the earliest time of each and all behind it, which rises.</summary>
    private readonly Dictionary<(ushort Element, uint Status), (List<int> Rows, long[] EarliestFrom)> _statuses = [];

    /// <param name="history">Its presses are known. Nobody asks where all of them are acknowledged: then nothing is gathered.</param>
    public StatesTold(CaptureHistory history)
    {
        _history = history;
        if (history.Presses.All(press => press.Acknowledged))
            return;
        var statuses = new Dictionary<(ushort Element, uint Status), List<int>>();
        for (int row = 0; row < history.Messages.Count; row++)
        {
            ref MessageRow message = ref history.Messages[row];
            if (message.IsControl || !message.Decrypted || message.Key != MessageKey.Application || !RequestKind.StatusOpcodes.Contains(message.Opcode.Value))
                continue;
            var key = (message.Src.Value, message.Opcode.Value);
            if (!statuses.TryGetValue(key, out List<int>? rows))
                statuses.Add(key, rows = []);
            rows.Add(row);
        }
        foreach ((var key, List<int> rows) in statuses)
            _statuses.Add(key, (rows, EarliestFrom(rows)));
    }

    /// <summary>
    /// True if the element's latest Status before the press, and those of the second before it, show another state than the one asked for: acting would change it.
    /// For several threads at once.
    /// </summary>
    /// <param name="press">One that is not acknowledged.</param>
    /// <param name="element">Unicast address.</param>
    public bool WouldChange(Press press, MeshAddress element)
    {
        RequestKind kind = RequestKind.Find(press.Opcode)!;
        if (!_statuses.TryGetValue((element.Value, kind.Status.Value), out (List<int> Rows, long[] EarliestFrom) told) || !kind.TryRead(_history.PayloadOf(press.Messages[0]), out ReadOnlySpan<byte> values, out _))
            return false;
        List<int> rows = told.Rows;
        int at = LastBefore(told.EarliestFrom, press.TimeNs);
        if (at < 0)
            return false;
        for (long since = _history.Messages[rows[at]].TimeNs - OutOfOrderNs; at >= 0 && _history.Messages[rows[at]].TimeNs >= since; at--)
            if (kind.IsAnsweredBy(values, _history.PayloadOf(rows[at])))
                return false;
        return true;
    }

    private long[] EarliestFrom(List<int> rows)
    {
        long[] earliest = new long[rows.Count];
        for (int at = rows.Count - 1; at >= 0; at--)
            earliest[at] = at + 1 < rows.Count ? Math.Min(earliest[at + 1], _history.Messages[rows[at]].TimeNs) : _history.Messages[rows[at]].TimeNs;
        return earliest;
    }

    /// <summary>Place of the last Status with an earlier time, or -1.</summary>
    private static int LastBefore(long[] earliest, long timeNs)
    {
        int low = 0, high = earliest.Length;
        while (low < high)
        {
            int middle = (low + high) / 2;
            if (earliest[middle] < timeNs)
                low = middle + 1;
            else
                high = middle;
        }
        return low - 1;
    }
}
