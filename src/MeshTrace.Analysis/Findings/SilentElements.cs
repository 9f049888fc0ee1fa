using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.ReceiversEye;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings;

/// <summary>An element that was meant to act on a press and was not heard to.</summary>
/// <param name="Press">Row of the press.</param>
/// <param name="Element">Its unicast address.</param>
/// <param name="Owed">It would have been heard: it was asked for a Status, or it publishes and had another state.</param>
/// <param name="View">The press as it must have seen it, without the steps.</param>
internal sealed record Silence(int Press, MeshAddress Element, bool Owed, EyeView View)
{
    /// <summary>Chance that its answers were on the air and the receivers missed them all.</summary>
    public double MissChance { get; init; } = 1;

    /// <summary>Its sequence numbers run on without a gap over that time: it sent nothing.</summary>
    public bool NothingSent { get; init; }

    /// <summary>Its node was not heard at all: the chance is taken from the worst heard of the others that were asked, so it is a guess.</summary>
    public bool NeverHeard { get; init; }
}

/// <summary>The elements that stayed silent, press by press: worked out once, for all rules that ask why.</summary>
internal sealed class SilentElements
{
    /// <summary>Elements looked at with the receiver's eye, at most: keeps the work bounded in captures of many thousand presses.</summary>
    private const int MostLooks = 200_000;

    /// <summary>An answer is on its way by then: 20-500 ms after the request (Mesh Protocol 1.1 §3.7.3.1), some hops and repeats (ours).</summary>
    public const long LatestAnswerNs = 3_000_000_000;

    /// <summary>Where no copy of the originator itself was heard, the first one heard may have come over a relay whose queue was full (ours).</summary>
    private const long LateOverRelaysNs = 3 * FirstCopy.MostLateNs;

    /// <summary>An answer within this time belongs to its press, not to one before (ours).</summary>
    private const long InTimeNs = 2_000_000_000;

    /// <summary>One answer may do for presses that follow each other faster (ours).</summary>
    private const long OneAnswerNs = 1_000_000_000;

    /// <summary>The last state of a lamp is known where so much of it is heard (ours).</summary>
    private const double WellHeard = 0.8;

    /// <summary>What is left of the chance where the sequence numbers tell that nothing was sent: numbers of other elements, proxies or subnets (ours).</summary>
    public const double NothingSentChance = 0.01;

    private readonly CaptureHistory _history;
    private readonly SequenceNeighbours _numbers;
    private readonly Dictionary<(MeshAddress Dst, MeshAddress Element), List<int>> _owed = [];

    /// <summary>The first answer of each element to each press, where it came in time, and what was asked.</summary>
    private readonly Dictionary<int, string> _answersInTime = [];
    private readonly Dictionary<MeshAddress, List<int>> _owedByElement = [];
    private readonly HashSet<MeshAddress> _answered = [];
    private readonly HashSet<MeshAddress> _didTheSame = [];
    private int _sameRow = -1, _timeRow = -1;
    private (long FromNs, long ToNs) _time;
    private double _deafShare;

    public SilentElements(CaptureHistory history)
    {
        _history = history;
        var silent = new List<(int Press, MeshAddress Element, bool Owed)>();
        for (int row = 0; row < history.Presses.Count && silent.Count < MostLooks; row++)
            Collect(row, silent);
        var first = new HashSet<MeshAddress>();
        foreach (Press press in history.Presses)
        {
            first.Clear();
            foreach (PressAnswer answer in press.Answers)
                if (first.Add(answer.Element) && answer.TimeNs - history.Messages[press.Messages[^1]].TimeNs <= InTimeNs)
                    _answersInTime[answer.Message] = press.Asks;
        }
        var asked = new HashSet<MeshAddress>(silent.Where(one => one.Owed).Select(one => one.Element));
        Dictionary<(MeshAddress Element, uint Status), List<int>>? statuses = null;
        SequenceNeighbours? numbers = null;
        SideBySide.Run(silent.Count > 0 ? history.Cores : 1, () =>
        {
            statuses = Statuses(asked);
            numbers = new SequenceNeighbours(history, asked.Select(history.Directory.NodeOf).Distinct());
            if (silent.Count == 0)
                return;
            _ = history.ReceptionProofs;
            _ = history.NodeTraces;
        }, () =>
        {
            if (silent.Count == 0)
                return;
            _ = history.ActsSeen;
            _ = history.HopDistances;
        });
        _numbers = numbers!;
        Dictionary<(MeshAddress Element, uint Status), List<int>> told = statuses!;
        All = [.. silent.Select(one => Judge(one.Press, one.Element, one.Owed, told))];
    }

    /// <summary>In the order of the presses.</summary>
    public IReadOnlyList<Silence> All { get; }

    /// <summary>Rows of the presses to a group on which an element owed an answer, whether or not it gave one.</summary>
    public IReadOnlyList<int> PressesOwed(MeshAddress dst, MeshAddress element) => _owed.GetValueOrDefault((dst, element)) ?? [];

    /// <summary>The same over all groups, in order.</summary>
    public IReadOnlyList<int> PressesOwed(MeshAddress element) => _owedByElement.GetValueOrDefault(element) ?? [];

    /// <summary>
    /// Numbers that an element used and nobody heard while it stayed silent on presses that follow each other, if they are fewer than the presses and half of
    /// the requests at most: each answer would have used one. Else, and where it cannot be told, null.
    /// </summary>
    /// <param name="run">Silences of one element, in order.</param>
    public int? NumbersTooFew(IReadOnlyList<Silence> run)
    {
        (Press first, Press last) = (_history.Presses[run[0].Press], _history.Presses[run[^1].Press]);
        if (first.TimeNs == CapturedFrame.NoTime || last.TimeNs == CapturedFrame.NoTime
            || _numbers.UnheardOfElement(run[0].Element, TimeOf(first).FromNs, TimeOf(last).ToNs) is not { } unheard)
            return null;
        for (int at = 0; at < run.Count; at++)
            if (!_history.Presses[run[at].Press].Acknowledged
                || (at > 0 && _history.Presses[run[at].Press].TimeNs - _history.Presses[run[at - 1].Press].TimeNs < OneAnswerNs))
                return null;        // a state is published once for several presses
        return unheard < run.Count && 2 * unheard <= run.Sum(silence => _history.Presses[silence.Press].Messages.Count) ? unheard : null;
    }

    /// <summary>
    /// How likely a run of silences is by two accounts that must agree: by how well the element is heard on the whole, and by the order in which its answers were heard,
    /// whatever the share. The worse of the two; 1 where one of them tells nothing.
    /// </summary>
    /// <param name="run">Silences of one element that follow each other, on acknowledged presses.</param>
    /// <param name="heard">Answers of the element heard outside the run.</param>
    /// <param name="owed">Answers owed.</param>
    public double ChanceByOrder(IReadOnlyList<Silence> run, int heard, int owed)
    {
        if (run.Count < SilenceChance.LeastByOrder)
            return 1;
        int pdus = 0;
        foreach (Silence silence in run)
        {
            if (!_history.Presses[silence.Press].Acknowledged || !silence.Owed)
                return 1;
            pdus += silence.MissChance < 1 ? _history.Presses[silence.Press].Messages.Count : 0;
        }
        double byShare = SilenceChance.OfRun(run.Count, owed, _history.HeardShares?.MeanChanceAllMissed(run[0].View.Node, pdus) ?? 1);
        return Math.Max(byShare, SilenceChance.OfOrder(run.Count, heard, owed));
    }

    /// <summary>When an answer to a press is sent, if at all: it may be before the first copy of the press that was heard.</summary>
    private (long FromNs, long ToNs) TimeOf(Press press) => (press.TimeNs - (OriginatorHeard(press) ? FirstCopy.MostLateNs : LateOverRelaysNs),
        Math.Max(press.TimeNs, _history.Messages[press.Messages[^1]].TimeNs) + LatestAnswerNs);

    private void Collect(int row, List<(int, MeshAddress, bool)> silent)
    {
        Press press = _history.Presses[row];
        if (press.Expected is not { Count: > 0 } expected)
            return;
        _answered.Clear();
        foreach (PressAnswer answer in press.Answers)
            _answered.Add(answer.Element);
        foreach (MeshAddress element in expected)
        {
            bool answered = _answered.Contains(element), owed = answered || _history.OwesAnAnswer(press, element);
            if (owed)
            {
                Add(_owed, (press.Dst, element), row);
                if (!press.Dst.IsUnicast)
                    Add(_owedByElement, element, row);
            }
            if (!answered)
                silent.Add((row, element, owed));
        }
    }

    private static void Add<T>(Dictionary<T, List<int>> lists, T key, int row) where T : notnull
    {
        if (!lists.TryGetValue(key, out List<int>? rows))
            lists.Add(key, rows = []);
        rows.Add(row);
    }

    /// <summary>A Status with another value than the one asked for is an answer all the same: the server may have limits of its own.</summary>
    private Dictionary<(MeshAddress Element, uint Status), List<int>> Statuses(HashSet<MeshAddress> elements)
    {
        var told = new Dictionary<(MeshAddress, uint), List<int>>();
        for (int row = 0; row < _history.Messages.Count && elements.Count > 0; row++)
        {
            ref MessageRow message = ref _history.Messages[row];
            if (message.IsControl || !message.Decrypted || !RequestKind.StatusOpcodes.Contains(message.Opcode.Value) || !elements.Contains(message.Src))
                continue;
            Add(told, (message.Src, message.Opcode.Value), row);
        }
        return told;
    }

    /// <summary>The same was asked of the same address within the time of a transaction, before or after, and the element did it: it has the state.</summary>
    private bool DidTheSame(int row, MeshAddress element)
    {
        if (_sameRow != row)
        {
            _sameRow = row;
            _didTheSame.Clear();
            NoteWhoDidTheSame(row);
        }
        return _didTheSame.Contains(element);
    }

    private void NoteWhoDidTheSame(int row)
    {
        Press press = _history.Presses[row];
        for (int step = -1; step <= 1; step += 2)
        {
            for (int at = row + step; at >= 0 && at < _history.Presses.Count && Math.Abs(_history.Presses[at].TimeNs - press.TimeNs) <= PressDetector.TransactionNs; at += step)
                if (_history.Presses[at] is var other && other.Src == press.Src && other.Dst == press.Dst && (other.Asks == press.Asks || other.Tid == press.Tid))
                    foreach (PressAnswer answer in other.Answers)
                        _didTheSame.Add(answer.Element);
        }
    }

    /// <summary>When an answer to the press of a row is sent, and the share of that time in which nobody listened: the same for all elements of a press.</summary>
    private (long FromNs, long ToNs, double DeafShare) TimeOf(int row)
    {
        if (_timeRow != row)
        {
            (_timeRow, _time) = (row, TimeOf(_history.Presses[row]));
            _deafShare = _history.Deafness.DeafShareOf(_time.FromNs, _time.ToNs);
        }
        return (_time.FromNs, _time.ToNs, _deafShare);
    }

    private Silence Judge(int row, MeshAddress element, bool owed, Dictionary<(MeshAddress, uint), List<int>> told)
    {
        Press press = _history.Presses[row];
        EyeView view = _history.ReceiversEyeInShort(row, element);
        if (!owed || press.TimeNs == CapturedFrame.NoTime)
            return new Silence(row, element, owed, view);
        (long from, long to, double deafShare) = TimeOf(row);
        if (told.GetValueOrDefault((element, RequestKind.Find(press.Opcode)!.Status.Value)) is { } statuses && AnyWithin(statuses, from, to, press.Asks))
            return new Silence(row, element, false, view);
        if (press.Acknowledged && told.TryGetValue((element, RequestKind.Find(press.Opcode)!.Status.Value), out List<int>? before) && AnsweredAnUnheardOne(press, before, from))
            return new Silence(row, element, false, view);
        if (view is { Verdict: EyeVerdict.Rejected, Step: ReceiveStep.Transaction } || DidTheSame(row, element))
            return new Silence(row, element, false, view);
        if (!press.Acknowledged && !(_history.HeardShares?.FloodIntervalOf(view.Node)?.Low >= WellHeard))
            return new Silence(row, element, owed, view);      // its state may have changed unheard, and then it has nothing to tell
        if (OnlyGivenOn(press))
            return new Silence(row, element, owed, view);      // answered before it was heard
        (long first, long last) = _history.TimeSpanNs ?? (0, 0);
        if (to > last || press.TimeNs < first || deafShare > 0)
            return new Silence(row, element, owed, view);      // nobody listened
        switch (_numbers.UnheardOfElement(element, from, to))
        {
            case 0:
                return new Silence(row, element, owed, view) { MissChance = NothingSentChance, NothingSent = true };
            case > 0 and <= (int)HeardShares.LongestSkip:
                return new Silence(row, element, owed, view);  // it sent something that was not heard: that may be the answer
            default:
                // A server answers a repeated request again; what it publishes, it publishes once.
                int answers = press.Acknowledged ? press.Messages.Count : 1;
                if (_history.HeardShares is not { } shares)
                    return new Silence(row, element, owed, view);
                if (shares.CountOf(view.Node) is null)
                    return new Silence(row, element, owed, view) { MissChance = 1 - WorstHeard(press, shares), NeverHeard = true };
                return new Silence(row, element, owed, view) { MissChance = shares.ChanceAllMissed(view.Node, answers, from, to) };
        }
    }

    /// <summary>Lowest share of those asked, as far as they were heard; 0 with fewer than two of them.</summary>
    private double WorstHeard(Press press, HeardShares shares)
    {
        double[] others = [.. press.Expected!.Select(_history.Directory.NodeOf).Distinct().Select(node => shares.FloodIntervalOf(node)?.Low).OfType<double>()];
        return others.Length < 2 ? 0 : others.Min();
    }

    private bool OriginatorHeard(Press press)
    {
        foreach (int flood in _history.FloodSpanOf(press.Messages[0]))
            if (_history.OriginatorHeard(flood))
                return true;
        return false;
    }

    /// <summary>The press was heard from a Friend alone, which gives it on when its node asks for it: nothing tells when it was sent.</summary>
    private bool OnlyGivenOn(Press press)
    {
        foreach (int flood in _history.FloodsOf(press.Messages[0]))
            if (_history.Floods[flood].Credentials != Credentials.Friendship)
                return false;
        return true;
    }

    /// <summary>
    /// Within the transaction before the first request heard, a Status of what is asked went to who asks, and answers no press heard in time: the first requests of
    /// this one were missed, and that is their answer.
    /// </summary>
    private bool AnsweredAnUnheardOne(Press press, List<int> statuses, long fromNs)
    {
        RequestKind kind = RequestKind.Find(press.Opcode)!;
        if (!kind.TryRead(_history.PayloadOf(press.Messages[0]), out ReadOnlySpan<byte> values, out _))
            return false;
        for (int at = FirstFrom(statuses, press.TimeNs - PressDetector.TransactionNs); at < statuses.Count; at++)
        {
            int row = statuses[at];
            ref MessageRow status = ref _history.Messages[row];
            if (status.TimeNs > fromNs)
                return false;
            if (status.Dst == press.Src && !_answersInTime.ContainsKey(row) && kind.IsAnsweredBy(values, _history.PayloadOf(row)))
                return true;
        }
        return false;
    }

    /// <summary>A Status within the time, other than those that answered in time what was asked differently.</summary>
    private bool AnyWithin(List<int> rows, long fromNs, long toNs, string asks)
    {
        for (int at = FirstFrom(rows, fromNs); at < rows.Count && _history.Messages[rows[at]].TimeNs <= toNs; at++)
            if (!_answersInTime.TryGetValue(rows[at], out string? answered) || answered == asks)
                return true;
        return false;
    }

    /// <summary>Place of the first of some messages, in their order, from a time on.</summary>
    private int FirstFrom(List<int> rows, long timeNs)
    {
        int low = 0, high = rows.Count;
        while (low < high)
        {
            int middle = (low + high) / 2;
            if (_history.Messages[rows[middle]].TimeNs < timeNs)
                low = middle + 1;
            else
                high = middle;
        }
        return low;
    }
}
