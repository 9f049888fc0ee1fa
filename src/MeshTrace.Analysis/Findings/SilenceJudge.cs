using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.ReceiversEye;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings;

/// <summary>Judges silences, in the order of the presses: what each is worth, and what the element must have seen. Not for several threads at once: each has its own.</summary>
/// <param name="history">The capture.</param>
/// <param name="eye">Of the same thread.</param>
/// <param name="answers">What was heard of those that stayed silent.</param>
internal sealed class SilenceJudge(CaptureHistory history, ReceiveProcedure eye, AnswersHeard answers)
{
    /// <summary>The last state of a lamp is known where so much of it is heard (ours).</summary>
    private const double WellHeard = 0.8;

    private readonly AddressMap<Silent> _elements = new();

    /// <summary>Those that did the same as is asked by the press at hand.</summary>
    private readonly AddressMap<bool> _didTheSame = new();
    private readonly (long First, long Last) _span = history.TimeSpanNs ?? (0, 0);

    private int _row = -1;
    private Press _press = null!;
    private RequestKind _kind = null!;
    private (long FromNs, long ToNs) _time;
    private bool _listenedAllTheTime, _onlyGivenOn;

    public Silence Judge(in Asked asked)
    {
        EyeGlance view = eye.Glance(asked.Press, asked.Element);
        if (_row != asked.Press)
            Show(asked.Press);
        if (!asked.Owed || _press.TimeNs == CapturedFrame.NoTime)
            return new Silence(in view, asked.Owed, asked.HeardBefore);
        if (!_elements.TryGetValue(asked.Element, out Silent silent))
            _elements.TryAdd(asked.Element, silent = new Silent(answers.Numbers.LineOf(asked.Element)));
        if (AnsweredAllTheSame(asked.Element, silent) || view is { Verdict: EyeVerdict.Rejected, Step: ReceiveStep.Transaction } || _didTheSame.Contains(asked.Element))
            return new Silence(in view, false, asked.HeardBefore);
        if (!_press.Acknowledged && !(history.HeardShares?.FloodIntervalOf(view.Node)?.Low >= WellHeard))
            return new Silence(in view, true, asked.HeardBefore);      // its state may have changed unheard, and then it has nothing to tell
        if (_onlyGivenOn)
            return new Silence(in view, true, asked.HeardBefore);      // answered before it was heard
        if (!_listenedAllTheTime)
            return new Silence(in view, true, asked.HeardBefore);
        switch (silent.Numbers?.Unheard(_time.FromNs, _time.ToNs, ref silent.NearNumber))
        {
            case 0:
                return new Silence(in view, true, asked.HeardBefore) { MissChance = SilentElements.NothingSentChance, NothingSent = true };
            case > 0 and <= (int)HeardShares.LongestSkip:
                return new Silence(in view, true, asked.HeardBefore);  // it sent something that was not heard: that may be the answer
            default:
                // A server answers a repeated request again; what it publishes, it publishes once.
                int expected = _press.Acknowledged ? _press.Messages.Count : 1;
                if (history.HeardShares is not { } shares)
                    return new Silence(in view, true, asked.HeardBefore);
                if (shares.CountOf(view.Node) is null)
                    return new Silence(in view, true, asked.HeardBefore) { MissChance = 1 - WorstHeard(shares), NeverHeard = true };
                return new Silence(in view, true, asked.HeardBefore) { MissChance = shares.ChanceAllMissed(view.Node, expected, _time.FromNs, _time.ToNs) };
        }
    }

    /// <summary>Turns to another press.</summary>
    private void Show(int row)
    {
        (_row, _press) = (row, history.Presses[row]);
        if (_press.TimeNs == CapturedFrame.NoTime)
            return;
        _kind = RequestKind.Find(_press.Opcode)!;
        _time = AnswersHeard.TimeOf(history, _press);
        _listenedAllTheTime = _time.ToNs <= _span.Last && _press.TimeNs >= _span.First && history.Deafness.DeafShareOf(_time.FromNs, _time.ToNs) <= 0;
        _onlyGivenOn = OnlyGivenOn();
        NoteWhoDidTheSame();
    }

    /// <summary>The press was heard from a Friend alone, which gives it on when its node asks for it: nothing tells when it was sent.</summary>
    private bool OnlyGivenOn()
    {
        foreach (int flood in history.FloodSpanOf(_press.Messages[0]))
            if (history.Floods[flood].Credentials != Credentials.Friendship)
                return false;
        return true;
    }

    /// <summary>The same was asked of the same address within the time of a transaction, before or after, and an element did it: it has the state.</summary>
    private void NoteWhoDidTheSame()
    {
        _didTheSame.Clear();
        for (int step = -1; step <= 1; step += 2)
        {
            for (int at = _row + step; at >= 0 && at < history.Presses.Count && Math.Abs(history.Presses[at].TimeNs - _press.TimeNs) <= PressDetector.TransactionNs; at += step)
                if (history.Presses[at] is var other && other.Src == _press.Src && other.Dst == _press.Dst && (other.Asks == _press.Asks || other.Tid == _press.Tid))
                    foreach (PressAnswer answer in other.Answers)
                        _didTheSame.TryAdd(answer.Element, true);
        }
    }

    /// <summary>A Status in the time of an answer, other than those that answered in time what was asked differently; or one to a request before that was missed.</summary>
    private bool AnsweredAllTheSame(MeshAddress element, Silent silent)
    {
        if (silent.Statuses?.Opcode != _kind.Status.Value)
            (silent.Statuses, silent.NearStatus) = (answers.StatusesOf(element, _kind.Status.Value), 0);
        if (silent.Statuses is not { } statuses)
            return false;
        int first = silent.NearStatus = statuses.FirstFrom(_time.FromNs, silent.NearStatus);
        for (int at = first; at < statuses.Rows.Length && statuses.Times[at] <= _time.ToNs; at++)
            if (answers.AnsweredInTime(statuses.Rows[at]) is not { } answered || answered.Asks == _press.Asks)
                return true;
        return _press.Acknowledged && AnsweredAnUnheardOne(statuses, first);
    }

    /// <summary>
    /// Within the transaction before the first request heard, a Status of what is asked went to who asks, and answers no press heard in time: the first requests of
    /// this one were missed, and that is their answer.
    /// </summary>
    private bool AnsweredAnUnheardOne(StatusLine statuses, int near)
    {
        int at = statuses.FirstFrom(_press.TimeNs - PressDetector.TransactionNs, near);
        if (at == statuses.Rows.Length || !_kind.TryRead(history.PayloadOf(_press.Messages[0]), out ReadOnlySpan<byte> values, out _))
            return false;
        for (; at < statuses.Rows.Length && statuses.Times[at] <= _time.FromNs; at++)
        {
            int row = statuses.Rows[at];
            if (history.Messages[row].Dst == _press.Src && answers.AnsweredInTime(row) is null && _kind.IsAnsweredBy(values, history.PayloadOf(row)))
                return true;
        }
        return false;
    }

    /// <summary>Lowest share of those asked, as far as they were heard; 0 with fewer than two of them.</summary>
    private double WorstHeard(HeardShares shares)
    {
        double[] others = [.. _press.Expected!.Select(history.Directory.NodeOf).Distinct().Select(node => shares.FloodIntervalOf(node)?.Low).OfType<double>()];
        return others.Length < 2 ? 0 : others.Min();
    }

    /// <summary>An element that stayed silent before, and where searches of what was heard of it ended.</summary>
    private sealed class Silent(NumberLine? numbers)
    {
        /// <summary>Sequence numbers, or null where none was heard.</summary>
        public NumberLine? Numbers => numbers;
        public int NearNumber;

        /// <summary>Those that would have answered the press before.</summary>
        public StatusLine? Statuses { get; set; }
        public int NearStatus;
    }
}
