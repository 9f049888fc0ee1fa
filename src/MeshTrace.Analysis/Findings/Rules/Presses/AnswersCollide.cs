using System.Runtime.InteropServices;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;

namespace MeshTrace.Analysis.Findings.Rules.Presses;

/// <summary>An acknowledged request to a group: many lamps answer at once, and answers or requests get lost among them.</summary>
internal sealed class AnswersCollide : IFindingRule
{
    /// <summary>So many answers within so short a time crowd the air (ours).</summary>
    private const int Many = 8;
    private const long AtOnceNs = 500_000_000;

    public string Id => "answers-collide";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var firsts = new FirstAnswers();
        var asked = Enumerable.Range(0, history.Presses.Count).Where(row => history.Presses[row] is { Acknowledged: true, Dst.IsUnicast: false } press
            && (press.Expected?.Count >= Many || (press.Answers.Count >= Many && firsts.CountOf(press) >= Many)));
        var lost = new Lazy<bool[]>(() => AnswersLost(history, findings));
        foreach (var same in asked.GroupBy(row => (history.Presses[row].Src, history.Presses[row].Dst)))
        {
            int[] presses = [.. same];
            int[] hurt = [.. presses.Where(row => history.Presses[row].Messages.Count > 1 || lost.Value[row])];
            int most = 0, meant = 0;
            foreach (int row in presses)
            {
                Press press = history.Presses[row];
                most = Math.Max(most, firsts.MostAtOnce(press, out int answered));
                meant = Math.Max(meant, Math.Max(press.Expected?.Count ?? 0, answered));
            }
            string harm = hurt.Length == 0 ? "no harm was seen yet" : $"on {hurt.Length} of {presses.Length} presses answers were lost or the request was repeated";
            string at = most >= Many ? $"{most} answers were heard within half a second" : $"{meant} elements are asked to answer at once";
            findings.AddOver(Id, most >= Many && hurt.Length > 0 ? Confidence.Likely : Confidence.Possible, history.Presses[presses[0]].TimeNs, history.Directory.NodeOf(same.Key.Src), hurt,
                $"{findings.Words.Name(same.Key.Src)} asks {findings.Words.Name(same.Key.Dst)} for acknowledgment: {at}; {harm}.",
                [.. presses.Select(row => new Evidence("press", row)).Concat(presses.SelectMany(row => history.Presses[row].Answers.Select(answer => new Evidence("message", answer.Message)))).Take(FindingSink.MostEvidence)]);
        }
    }

    /// <summary>By the row of each press: true if an answer is missing that would hardly have been missed here.</summary>
    private static bool[] AnswersLost(CaptureHistory history, FindingSink findings)
    {
        bool[] lost = new bool[history.Presses.Count];
        foreach (Silence silence in findings.Silences.All)
            lost[silence.Press] |= silence.Owed && silence.MissChance < Weighing.PossibleBelow;
        return lost;
    }

    /// <summary>The first answer of each element to a press. Its tables are used again for each press, as there may be many thousand.</summary>
    private sealed class FirstAnswers
    {
        /// <summary>Place of each element in the times of their first answers.</summary>
        private readonly AddressMap<int> _places = new();
        private readonly List<long> _times = [];
        private bool _inOrder;

        /// <summary>Elements that answered.</summary>
        public int CountOf(Press press)
        {
            Note(press);
            return _times.Count;
        }

        /// <summary>Most elements whose first answers came within half a second.</summary>
        /// <param name="press">The press.</param>
        /// <param name="answered">Elements that answered at all.</param>
        public int MostAtOnce(Press press, out int answered)
        {
            Note(press);
            answered = _times.Count;
            if (!_inOrder)
                _times.Sort();
            int most = 0, from = 0;
            for (int at = 0; at < _times.Count; at++)
            {
                while (_times[at] - _times[from] > AtOnceNs)
                    from++;
                most = Math.Max(most, at - from + 1);
            }
            return most;
        }

        private void Note(Press press)
        {
            _places.Clear();
            _times.Clear();
            foreach (ref readonly PressAnswer answer in CollectionsMarshal.AsSpan(press.Answers))
                if (_places.TryAdd(answer.Element, _times.Count))
                    _times.Add(answer.TimeNs);
                else if (_places.TryGetValue(answer.Element, out int place))
                    _times[place] = Math.Min(_times[place], answer.TimeNs);
            _inOrder = true;
            for (int at = 1; at < _times.Count; at++)
                _inOrder &= _times[at] >= _times[at - 1];
        }
    }
}
