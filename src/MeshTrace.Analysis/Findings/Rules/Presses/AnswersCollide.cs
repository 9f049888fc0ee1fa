using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;

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
        var silent = new Lazy<Dictionary<int, Silence[]>>(() => findings.Silences.All.Where(one => one.Owed).GroupBy(one => one.Press).ToDictionary(press => press.Key, press => press.ToArray()));
        foreach (var same in asked.GroupBy(row => (history.Presses[row].Src, history.Presses[row].Dst)))
        {
            int[] presses = [.. same];
            int[] hurt = [.. presses.Where(row => history.Presses[row].Messages.Count > 1 || ChanceNoneLost(silent.Value.GetValueOrDefault(row)) < Weighing.PossibleBelow)];
            int most = presses.Max(row => firsts.MostAtOnce(history.Presses[row]));
            int meant = presses.Max(row => Math.Max(history.Presses[row].Expected?.Count ?? 0, firsts.CountOf(history.Presses[row])));
            string harm = hurt.Length == 0 ? "no harm was seen yet" : $"on {hurt.Length} of {presses.Length} presses answers were lost or the request was repeated";
            string at = most >= Many ? $"{most} answers were heard within half a second" : $"{meant} elements are asked to answer at once";
            findings.AddOver(Id, most >= Many && hurt.Length > 0 ? Confidence.Likely : Confidence.Possible, history.Presses[presses[0]].TimeNs, history.Directory.NodeOf(same.Key.Src), hurt,
                $"{findings.Words.Name(same.Key.Src)} asks {findings.Words.Name(same.Key.Dst)} for acknowledgment: {at}; {harm}.",
                [.. presses.Select(row => new Evidence("press", row)).Concat(presses.SelectMany(row => history.Presses[row].Answers.Select(answer => new Evidence("message", answer.Message)))).Take(FindingSink.MostEvidence)]);
        }
    }

    private static double ChanceNoneLost(Silence[]? silences) => silences is null ? 1 : silences.Min(silence => silence.MissChance);

    /// <summary>The first answer of each element to a press. Its tables are used again for each press, as there may be many thousand.</summary>
    private sealed class FirstAnswers
    {
        private readonly Dictionary<MeshAddress, long> _firsts = [];
        private readonly List<long> _times = [];

        /// <summary>Elements that answered.</summary>
        public int CountOf(Press press)
        {
            Note(press);
            return _firsts.Count;
        }

        /// <summary>Most elements whose first answers came within half a second.</summary>
        public int MostAtOnce(Press press)
        {
            Note(press);
            _times.Clear();
            _times.AddRange(_firsts.Values);
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
            _firsts.Clear();
            foreach (PressAnswer answer in press.Answers)
                _firsts[answer.Element] = _firsts.TryGetValue(answer.Element, out long before) ? Math.Min(before, answer.TimeNs) : answer.TimeNs;
        }
    }
}
