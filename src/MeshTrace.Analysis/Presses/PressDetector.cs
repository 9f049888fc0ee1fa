using System.Runtime.InteropServices;
using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Presses;

/// <summary>
/// Groups requests into presses and gives each Status to the press it answers. Goes through the messages once, in the order heard.
/// </summary>
internal sealed class PressDetector(CaptureHistory history, ExpectedServers expected)
{
    /// <summary>Same SRC, DST and TID within 6 s are one transaction (Mesh Model 1.1 §3.3).</summary>
    public const long TransactionNs = 6_000_000_000;

    /// <summary>A client waits 30 s for an answer (Mesh Protocol 1.1 §3.7.4.2): a later Status answers something else.</summary>
    public const long LongestAnswerNs = 30_000_000_000;

    /// <summary>Servers answer within 0.5 s (Mesh Protocol 1.1 §3.7.3.1); with relays and repetitions a Status is clearly late for a request after this (threshold ours).</summary>
    private const long LateAnswerNs = 2_000_000_000;

    /// <summary>Room for so many answers is made at once: more where more came.</summary>
    private const int MostAnswersAwaited = 16;

    private const double NsPerMs = 1e6;
    private readonly List<Press> _presses = [];
    private readonly HashSet<ushort> _answered = [];

    /// <summary>Of each press: its kind, and the press before it of the same transaction number, or -1.</summary>
    private readonly List<(RequestKind Kind, int SameBefore)> _kinds = [];

    /// <summary>The newest press of each SRC, DST, TID and opcode, which are 64 bits together.</summary>
    private readonly Dictionary<ulong, int> _transactions = [];

    /// <summary>Presses that may still be answered, newest last.</summary>
    private readonly Dictionary<uint, List<int>> _openByStatus = [];

    /// <summary>Status messages of late and the press each was given to, or -1; oldest first.</summary>
    private readonly List<(int Message, int Press)> _recent = [];

    public List<Press> Run()
    {
        for (int row = 0; row < history.Messages.Count; row++)
        {
            ref MessageRow message = ref history.Messages[row];
            if (message.IsControl || !message.Decrypted || message.Key != MessageKey.Application)
                continue;
            if (RequestKind.Find(message.Opcode) is { } kind)
                TakeRequest(row, in message, kind);
            else if (RequestKind.StatusOpcodes.Contains(message.Opcode.Value))
                TakeStatus(row, in message);
        }
        foreach (Press press in _presses)
        {
            Measure(press);
            press.Messages.TrimExcess();
            press.Answers.TrimExcess();
        }
        return _presses;
    }

    private void TakeRequest(int row, in MessageRow message, RequestKind kind)
    {
        if (!kind.TryRead(history.PayloadOf(row), out ReadOnlySpan<byte> values, out byte tid))
            return;
        ulong key = ((ulong)message.Src.Value << 48) | ((ulong)message.Dst.Value << 32) | ((ulong)tid << 24) | message.Opcode.Value;
        ref int newest = ref CollectionsMarshal.GetValueRefOrAddDefault(_transactions, key, out bool known);
        int sameBefore = known ? newest : -1;
        for (int same = sameBefore; same >= 0 && IsWithin(_presses[same].TimeNs, message.TimeNs, TransactionNs); same = _kinds[same].SameBefore)
        {
            if (!values.SequenceEqual(ValuesOf(same)))
                continue;
            _presses[same].Messages.Add(row);
            return;
        }
        newest = _presses.Count;
        MessageDefinition? definition = AccessCatalogue.Find(message.Opcode);
        string name = definition?.Name ?? message.Opcode.ToString();
        var press = new Press
        {
            TimeNs = message.TimeNs, Src = message.Src, Dst = message.Dst, Tid = tid, Opcode = message.Opcode, Name = name,
            Asks = kind.Say(values, name), Acknowledged = kind.Acknowledged,
            Expected = expected.At(message.Dst, definition?.ServerModels ?? [], message.TimeNs),
        };
        press.Messages.Add(row);
        if (!_openByStatus.TryGetValue(kind.Status.Value, out List<int>? open))
            _openByStatus.Add(kind.Status.Value, open = []);
        open.Add(_presses.Count);
        _presses.Add(press);
        _kinds.Add((kind, sameBefore));
        TakeEarlyAnswers(_presses.Count - 1, kind);
    }

    /// <summary>
    /// Answers that were heard before the first copy of their request: of no press, or given to one that they are late for or that their element had answered.
    /// </summary>
    private void TakeEarlyAnswers(int row, RequestKind kind)
    {
        Press press = _presses[row];
        if (press.TimeNs == CapturedFrame.NoTime)
            return;
        for (int i = 0; i < _recent.Count; i++)
        {
            (int message, int given) = _recent[i];
            ref MessageRow status = ref history.Messages[message];
            if (status.TimeNs < press.TimeNs - FirstCopy.MostLateNs || status.Opcode.Value != kind.Status.Value || !Fits(press, in status)
                || !kind.IsAnsweredBy(ValuesOf(row), history.PayloadOf(message)))
                continue;
            if (given >= 0)
            {
                Press before = _presses[given];
                if (!IsOneOfSeveral(before, status.Src, message) && status.TimeNs - history.Messages[before.Messages[^1]].TimeNs < LateAnswerNs)
                    continue;
                TakeBack(before, message);
            }
            Add(press, new PressAnswer(status.Src, message, status.TimeNs));
            _recent[i] = (message, row);
        }
    }

    private void Remember(int message, int press, long timeNs)
    {
        if (timeNs == CapturedFrame.NoTime)
            return;
        int kept = 0;
        for (int i = 0; i < _recent.Count; i++)
            if (history.Messages[_recent[i].Message].TimeNs >= timeNs - FirstCopy.MostLateNs)
                _recent[kept++] = _recent[i];
        _recent.RemoveRange(kept, _recent.Count - kept);
        _recent.Add((message, press));
    }

    private void TakeStatus(int row, in MessageRow message)
    {
        int given = Give(row, in message);
        Remember(row, given, message.TimeNs);
    }

    /// <summary>Row of the press that the Status answers, or -1.</summary>
    private int Give(int row, in MessageRow message)
    {
        if (!_openByStatus.TryGetValue(message.Opcode.Value, out List<int>? open))
            return -1;
        ReadOnlySpan<byte> payload = history.PayloadOf(row);
        for (int i = open.Count - 1; i >= 0; i--)
        {
            Press press = _presses[open[i]];
            if (!IsWithin(press.TimeNs, message.TimeNs, LongestAnswerNs))
            {
                open.RemoveRange(0, i + 1);     // they are in order of time: all before it are over too
                return -1;
            }
            if (!Fits(press, in message) || !_kinds[open[i]].Kind.IsAnsweredBy(ValuesOf(open[i]), payload))
                continue;
            Add(press, new PressAnswer(message.Src, row, message.TimeNs));
            return open[i];     // it counts for the newest press it fits
        }
        return -1;
    }

    /// <summary>The values that a press asks for.</summary>
    private ReadOnlySpan<byte> ValuesOf(int press)
    {
        RequestKind kind = _kinds[press].Kind;
        return history.PayloadOf(_presses[press].Messages[0]).Slice(kind.Request.Octets, kind.ValueOctets);
    }

    private static void Add(Press press, PressAnswer answer)
    {
        if (press.Answers.Count == 0 && press.Expected is { Count: > 0 } expected)
            press.Answers.EnsureCapacity(Math.Min(expected.Count, MostAnswersAwaited));     // mostly all of them answer
        press.Answers.Add(answer);
    }

    /// <summary>True if the element answered the press before this message too.</summary>
    private static bool IsOneOfSeveral(Press press, MeshAddress element, int message)
    {
        foreach (ref readonly PressAnswer answer in CollectionsMarshal.AsSpan(press.Answers))
            if (answer.Element == element && answer.Message < message)
                return true;
        return false;
    }

    private static void TakeBack(Press press, int message) => press.Answers.RemoveAll(answer => answer.Message == message);

    /// <summary>To the requester, or published: to a group, a label, or whomever the server publishes to.</summary>
    private static bool Fits(Press press, in MessageRow status)
    {
        if (status.Src == press.Src || (status.Dst.IsUnicast && status.Dst != press.Src))
            return false;
        if (press.Expected is { } elements && !elements.Contains(status.Src))
            return false;
        return press.Expected is not null || !press.Dst.IsUnicast || press.Dst == status.Src;
    }

    private void Measure(Press press)
    {
        byte lowest = byte.MaxValue, highest = 0;
        foreach (int message in press.Messages)
        {
            foreach (int flood in history.FloodSpanOf(message))
            {
                lowest = Math.Min(lowest, history.Floods[flood].LowestTtl);
                highest = Math.Max(highest, history.Floods[flood].HighestTtl);
            }
        }
        press.LastTtl = lowest;
        press.HopsSeen = highest - lowest;
        if (press.TimeNs == CapturedFrame.NoTime || press.Answers.Count == 0)
            return;
        _answered.Clear();
        long last = long.MinValue;
        foreach (PressAnswer answer in press.Answers)
            if (_answered.Add(answer.Element.Value))
                last = Math.Max(last, answer.TimeNs);
        press.LatencyMs = last < press.TimeNs ? null : (last - press.TimeNs) / NsPerMs;    // before the first copy heard: the request was under way already
    }

    private static bool IsWithin(long from, long to, long span) =>
        from == CapturedFrame.NoTime || to == CapturedFrame.NoTime || to - from <= span;
}
