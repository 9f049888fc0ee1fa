using System.Runtime.InteropServices;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.ReceiversEye;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings;

/// <summary>Answers that an element owed to presses to groups.</summary>
/// <param name="Count">All of them.</param>
/// <param name="Heard">Those that it gave.</param>
internal readonly record struct OwedAnswers(int Count, int Heard);

/// <summary>The elements that stayed silent, press by press: worked out once, for all rules that ask why.</summary>
internal sealed class SilentElements
{
    /// <summary>Elements looked at with the receiver's eye, at most: keeps the work bounded in captures of many thousand presses.</summary>
    private const int MostLooks = 200_000;

    /// <summary>An answer is on its way by then: 20-500 ms after the request (Mesh Protocol 1.1 §3.7.3.1), some hops and repeats (ours).</summary>
    public const long LatestAnswerNs = 3_000_000_000;

    /// <summary>One answer may do for presses that follow each other faster (ours).</summary>
    private const long OneAnswerNs = 1_000_000_000;

    /// <summary>What is left of the chance where the sequence numbers tell that nothing was sent: numbers of other elements, proxies or subnets (ours).</summary>
    public const double NothingSentChance = 0.01;

    /// <summary>Silences that are judged in one go: enough that the cores seldom ask for more, and few enough that none waits long for another in the end.</summary>
    private const int Piece = 1_024;

    private readonly CaptureHistory _history;
    private readonly AnswersHeard _answers;
    private readonly AddressMap<OwedAnswers> _owed = new();

    /// <summary>Of the press at hand.</summary>
    private readonly AddressMap<bool> _answered = new();
    private readonly List<(int Press, Range Silences)> _unanswered = [];

    /// <summary>Presses that were gone over: fewer than all where too many elements stayed silent.</summary>
    private readonly int _rows;

    /// <summary>By group and element, made when it is asked for.</summary>
    private Dictionary<AddressPair, int>? _owedToGroups;

    public SilentElements(CaptureHistory history)
    {
        _history = history;
        long likely = history.Presses.Sum(press => Math.Max(0L, (press.Expected?.Count ?? 0) - press.Answers.Count));
        var silent = new List<Asked>((int)Math.Min(MostLooks, likely));
        for (; _rows < history.Presses.Count && silent.Count < MostLooks; _rows++)
            Collect(_rows, silent);
        _answers = LookedWith(silent);
        All = JudgeAll(silent);
        Rejected = [.. All.Where(silence => silence.View.Verdict == EyeVerdict.Rejected)];
    }

    /// <summary>In the order of the presses.</summary>
    public Silence[] All { get; }

    /// <summary>Rows of the presses that nobody answered, and the places of their silences.</summary>
    public IReadOnlyList<(int Press, Range Silences)> Unanswered => _unanswered;

    /// <summary>Of all, those where a step of the receive procedure rejects the press.</summary>
    public IReadOnlyList<Silence> Rejected { get; }

    /// <summary>How many answers an element owed to presses to groups, and how many of them were heard.</summary>
    public OwedAnswers OwedBy(MeshAddress element) => _owed.TryGetValue(element, out OwedAnswers owed) ? owed : default;

    /// <summary>How many of them it owed to presses to one group.</summary>
    public int OwedTo(MeshAddress group, MeshAddress element) => (_owedToGroups ??= OwedToGroups()).GetValueOrDefault(new AddressPair(group, element));

    /// <summary>
    /// Numbers that an element used and nobody heard while it stayed silent on presses that follow each other, if they are fewer than the presses and half of
    /// the requests at most: each answer would have used one. Else, and where it cannot be told, null.
    /// </summary>
    /// <param name="run">Silences of one element, in order.</param>
    public int? NumbersTooFew(IReadOnlyList<Silence> run)
    {
        (Press first, Press last) = (_history.Presses[run[0].Press], _history.Presses[run[^1].Press]);
        if (first.TimeNs == CapturedFrame.NoTime || last.TimeNs == CapturedFrame.NoTime
            || _answers.Numbers.UnheardOfElement(run[0].Element, AnswersHeard.TimeOf(_history, first).FromNs, AnswersHeard.TimeOf(_history, last).ToNs) is not { } unheard)
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

    /// <summary>Makes what the receiver's eye looks with, so that several may use it, and what was heard of those who stayed silent.</summary>
    private AnswersHeard LookedWith(List<Asked> silent)
    {
        if (silent.Count == 0)
            return new AnswersHeard(_history, silent);
        AnswersHeard answers = null!;
        SideBySide.Run(_history.Cores, () => _ = _history.ReceptionProofs, () => _ = _history.ActsSeen, () => answers = new AnswersHeard(_history, silent),
            () => _ = _history.HopDistances, () => _ = _history.NodeTraces);
        return answers;
    }

    private void Collect(int row, List<Asked> silent)
    {
        Press press = _history.Presses[row];
        if (press.Expected is not { Count: > 0 } expected)
            return;
        bool group = !press.Dst.IsUnicast;
        int before = silent.Count;
        NoteAnswered(press);
        for (int at = 0; at < expected.Count; at++)
        {
            MeshAddress element = expected[at];
            bool answered = _answered.Contains(element), owed = answered || _history.OwesAnAnswer(press, element);
            ref OwedAnswers all = ref _owed.Entry(element);
            if (!answered)
                silent.Add(new Asked(row, element, owed, all.Heard));
            if (owed && group)
                all = new OwedAnswers(all.Count + 1, all.Heard + (answered ? 1 : 0));
        }
        if (press.Answers.Count == 0)
            _unanswered.Add((row, before..silent.Count));
    }

    private void NoteAnswered(Press press)
    {
        _answered.Clear();
        foreach (ref readonly PressAnswer answer in CollectionsMarshal.AsSpan(press.Answers))
            _answered.TryAdd(answer.Element, true);
    }

    private Dictionary<AddressPair, int> OwedToGroups()
    {
        var owed = new Dictionary<AddressPair, int>();
        foreach (Press press in _history.Presses.Take(_rows))
        {
            if (press.Dst.IsUnicast)
                continue;
            NoteAnswered(press);
            foreach (MeshAddress element in press.Expected ?? [])
                if (_answered.Contains(element) || _history.OwesAnAnswer(press, element))
                    CollectionsMarshal.GetValueRefOrAddDefault(owed, new AddressPair(press.Dst, element), out _)++;
        }
        return owed;
    }

    /// <summary>Each core takes the next piece with an eye of its own: what it told of one silence does not change what it tells of another.</summary>
    private Silence[] JudgeAll(List<Asked> silent)
    {
        var all = new Silence[silent.Count];
        int taken = 0;
        if (silent.Count > 0)
            SideBySide.Run(_history.Cores, [() => Judge(_history.Eye), .. Enumerable.Repeat(() => Judge(_history.AnotherEye()), Math.Min(_history.Cores - 1, silent.Count / Piece))]);
        return all;

        void Judge(ReceiveProcedure eye)
        {
            var judge = new SilenceJudge(_history, eye, _answers);
            while (Interlocked.Add(ref taken, Piece) - Piece is var from && from < all.Length)
                for (int at = from; at < Math.Min(from + Piece, all.Length); at++)
                    all[at] = judge.Judge(silent[at]);
        }
    }
}
