using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.Repeats;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings.Rules.Presses;

/// <summary>The Status went out, and the client asks again all the same.</summary>
internal sealed class AnswerLostOnWayBack : IFindingRule
{
    /// <summary>From the last copy of the Status heard to the repeated request: it must have been there before the client made up its mind (ours).</summary>
    private const long ClearlyAfterNs = 200_000_000;

    /// <summary>A client that repeats nearly all its presses, answered or not, repeats by habit (ours).</summary>
    private const double Habit = 0.9;
    private const int EnoughPresses = 4;

    public string Id => "answer-lost-on-way-back";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var published = new HashSet<int>();
        foreach (RepeatedMessage repeat in history.MessageRepeats)
            if (repeat.Kind == RepeatKind.Publication)
                published.UnionWith(repeat.Messages);
        var lost = new List<(int Press, int Answer, int Repeat)>();
        var answered = new Dictionary<MeshAddress, int>();
        for (int row = 0; row < history.Presses.Count; row++)
        {
            Press press = history.Presses[row];
            if (!press.Acknowledged || press.Answers.Count == 0 || press.TimeNs == CapturedFrame.NoTime)
                continue;
            answered[press.Src] = answered.GetValueOrDefault(press.Src) + 1;
            if (press.Messages.Count > 1 && !published.Contains(press.Messages[0]) && FindRepeat(history, press) is { } found)
                lost.Add((row, found.Answer, found.Repeat));
        }
        foreach (var same in lost.GroupBy(one => (history.Presses[one.Press].Src, From: FromOf(history, one.Press))))
        {
            var rows = same.ToArray();
            MeshAddress src = same.Key.Src;
            int all = lost.Count(one => history.Presses[one.Press].Src == src);
            bool habit = answered[src] >= EnoughPresses && all >= Habit * answered[src];
            string from = same.Key.From is { } lamp ? findings.Words.Name(lamp) : "all that should answer";
            findings.AddOver(Id, habit ? Confidence.Possible : Confidence.Likely, history.Presses[rows[0].Press].TimeNs,
                same.Key.From is { } element ? history.Directory.NodeOf(element) : history.Directory.NodeOf(src), [.. rows.Select(one => one.Press)],
                $"The answer of {from} was on the air, and {findings.Words.Name(src)} asked again under the same TID on {FindingWords.Count(rows.Length, "press", "presses")}: the answer did not come back to it, or too late.",
                [.. rows.SelectMany(one => new[] { new Evidence("press", one.Press), new Evidence("message", one.Answer), new Evidence("message", one.Repeat) })]);
        }
    }

    /// <summary>The element that answered, where only one was asked; where several were, nobody knows whose answer the client missed.</summary>
    private static MeshAddress? FromOf(CaptureHistory history, int press) =>
        history.Presses[press].Answers.Select(answer => answer.Element).Distinct().ToArray() is [var only] ? only : null;

    /// <summary>The first request that came after everybody asked had answered to the client.</summary>
    private static (int Answer, int Repeat)? FindRepeat(CaptureHistory history, Press press)
    {
        var waiting = new HashSet<MeshAddress>(press.Expected is { Count: > 0 } expected ? expected : press.Answers.Select(answer => answer.Element));
        long complete = long.MinValue;
        int last = -1;
        foreach (PressAnswer answer in press.Answers)
        {
            if (history.Messages[answer.Message].Dst != press.Src || !waiting.Remove(answer.Element))
                continue;
            (complete, last) = (Math.Max(complete, history.Floods[history.FloodsOf(answer.Message)[^1]].LastTimeNs), answer.Message);
        }
        if (waiting.Count > 0 || last < 0)
            return null;
        foreach (int message in press.Messages)
            if (history.Messages[message].TimeNs > complete + ClearlyAfterNs)
                return (last, message);
        return null;
    }
}
