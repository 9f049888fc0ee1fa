using System.Runtime.InteropServices;
using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings;

/// <summary>An element that should act on a press and did not answer it.</summary>
/// <param name="Press">Row of the press.</param>
/// <param name="Element">Its unicast address.</param>
/// <param name="Owed">It would have been heard.</param>
/// <param name="HeardBefore">So many answers that it gave to presses to groups had been heard before.</param>
internal readonly record struct Asked(int Press, MeshAddress Element, bool Owed, int HeardBefore);

/// <summary>What those who stayed silent on some presses told all the same: their Status messages, and their sequence numbers. For several threads at once.</summary>
internal sealed class AnswersHeard
{
    /// <summary>Where no copy of the originator itself was heard, the first one heard may have come over a relay whose queue was full (ours).</summary>
    private const long LateOverRelaysNs = 3 * FirstCopy.MostLateNs;

    /// <summary>An answer within this time belongs to its press, not to one before (ours).</summary>
    private const long InTimeNs = 2_000_000_000;

    private readonly CaptureHistory _history;
    private readonly AddressMap<List<StatusLine>> _statuses = new();

    /// <summary>By the row of a message: row + 1 of the press of which it is an element's first answer, where it came in time; else 0.</summary>
    private readonly int[] _answeredInTime;

    public AnswersHeard(CaptureHistory history, List<Asked> silent)
    {
        _history = history;
        var asked = new List<MeshAddress>();
        foreach (ref readonly Asked one in CollectionsMarshal.AsSpan(silent))
            if (one.Owed && _statuses.TryAdd(one.Element, []))
                asked.Add(one.Element);
        _answeredInTime = asked.Count == 0 ? [] : AnswersInTime();
        GatherStatuses();
        Numbers = new SequenceNeighbours(history, asked.Select(history.Directory.NodeOf).Distinct());
    }

    /// <summary>Of the nodes of those who owed an answer.</summary>
    public SequenceNeighbours Numbers { get; }

    /// <summary>Status messages of one kind that an element sent, or null where it sent none, or never owed an answer that was not heard.</summary>
    public StatusLine? StatusesOf(MeshAddress element, uint opcode)
    {
        if (_statuses.TryGetValue(element, out List<StatusLine> lines))
            foreach (StatusLine line in lines)
                if (line.Opcode == opcode)
                    return line;
        return null;
    }

    /// <summary>The press of which a message is an element's first answer, where it came in time, or null.</summary>
    /// <param name="message">Row of the message.</param>
    public Press? AnsweredInTime(int message) => _answeredInTime[message] is > 0 and var press ? _history.Presses[press - 1] : null;

    /// <summary>When an answer to a press is sent, if at all: it may be before the first copy of the press that was heard.</summary>
    public static (long FromNs, long ToNs) TimeOf(CaptureHistory history, Press press) => (press.TimeNs - (OriginatorHeard(history, press) ? FirstCopy.MostLateNs : LateOverRelaysNs),
        Math.Max(press.TimeNs, history.Messages[press.Messages[^1]].TimeNs) + SilentElements.LatestAnswerNs);

    private static bool OriginatorHeard(CaptureHistory history, Press press)
    {
        foreach (int flood in history.FloodSpanOf(press.Messages[0]))
            if (history.OriginatorHeard(flood))
                return true;
        return false;
    }

    private int[] AnswersInTime()
    {
        int[] inTime = new int[_history.Messages.Count];
        var first = new AddressMap<bool>();
        for (int row = 0; row < _history.Presses.Count; row++)
        {
            Press press = _history.Presses[row];
            long lastNs = _history.Messages[press.Messages[^1]].TimeNs;
            first.Clear();
            foreach (ref readonly PressAnswer answer in CollectionsMarshal.AsSpan(press.Answers))
                if (first.TryAdd(answer.Element, true) && answer.TimeNs - lastNs <= InTimeNs)
                    inTime[answer.Message] = row + 1;
        }
        return inTime;
    }

    /// <summary>A Status with another value than the one asked for is an answer all the same: the server may have limits of its own.</summary>
    private void GatherStatuses()
    {
        var all = new List<StatusLine>();
        for (int row = 0; row < _history.Messages.Count && _statuses.Count > 0; row++)
        {
            ref MessageRow message = ref _history.Messages[row];
            if (message.IsControl || !message.Decrypted || !_statuses.TryGetValue(message.Src, out List<StatusLine> lines) || !RequestKind.StatusOpcodes.Contains(message.Opcode.Value))
                continue;
            StatusLine? line = StatusesOf(message.Src, message.Opcode.Value);
            if (line is null)
            {
                lines.Add(line = new StatusLine(message.Opcode.Value));
                all.Add(line);
            }
            line.Add(row);
        }
        foreach (StatusLine line in all)
            line.Finish(_history);
    }
}
