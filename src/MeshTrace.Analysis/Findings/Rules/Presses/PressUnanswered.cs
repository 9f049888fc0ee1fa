using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Presses;

/// <summary>A press that owed an answer got none, from nobody, and no other finding tells why.</summary>
internal sealed class PressUnanswered : IFindingRule
{
    public string Id => "press-unanswered";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var unanswered = findings.Silences.All.GroupBy(silence => silence.Press)
            .Where(press => history.Presses[press.Key].Answers.Count == 0)
            .Select(press => (Press: press.Key, Silent: press.Where(silence => silence.Owed && !findings.Explains(press.Key, silence.View.Node)).ToArray()))
            .Where(press => press.Silent.Length > 0);
        foreach (var same in unanswered.GroupBy(one => (history.Presses[one.Press].Src, history.Presses[one.Press].Dst)))
            Judge(history, findings, [.. same]);
    }

    private void Judge(CaptureHistory history, FindingSink findings, (int Press, Silence[] Silent)[] presses)
    {
        // Each press for itself first: what a thin capture leaves open does not become sure by standing beside what is sure.
        (Press first, int asked) = (history.Presses[presses[0].Press], AskedOf(history, presses[0].Press));
        var sure = presses.Where(press => Weighing.Of(ChanceOf(press.Silent, asked)) is not null).ToArray();
        double chance;
        if (sure.Length > 0)
        {
            chance = sure.Min(press => ChanceOf(press.Silent, asked));
            first = history.Presses[sure[0].Press];
        }
        else
        {
            sure = presses;
            chance = presses.Length == asked ? sure.Aggregate(1.0, (all, press) => all * ChanceOf(press.Silent, 1)) : 1;
        }
        Silence[] silent = [.. sure.SelectMany(press => press.Silent)];
        MeshAddress[] nodes = [.. silent.Select(silence => silence.View.Node).Distinct()];
        if (findings.Weighing.Judge(Id, nodes[0], chance, sure[0].Press) is not { } confidence)
            return;
        if (!first.Acknowledged || silent.All(silence => silence.NeverHeard))
            confidence = Confidence.Possible;       // what it would have told rests on its last state heard, or on how others are heard
        MeshAddress[] elements = [.. silent.Select(silence => silence.Element).Distinct()];
        string times = sure.Length == 1 ? $"A press of {findings.Words.Name(first.Src)}, {findings.Words.Ask(first)}," : $"{sure.Length} presses of {findings.Words.Name(first.Src)} to {findings.Words.Name(first.Dst)}";
        string again = sure.Max(press => history.Presses[press.Press].Messages.Count) is > 1 and var most ? $" although asked up to {most} times" : "";
        string proof = silent.All(silence => silence.NothingSent) ? "the sequence numbers tell that nothing was sent"
            : $"chance that the answers were only missed: {FindingWords.Percent(chance)}";
        string why = elements.Length == 1 || silent.All(silence => silence.View.Verdict == silent[0].View.Verdict && silence.View.Step == silent[0].View.Step && silence.View.Doubt == silent[0].View.Doubt)
            ? $"; {FindingWords.Why(silent[0].View, elements.Length > 1)}" : "";
        findings.AddOver(Id, confidence, first.TimeNs, nodes.Length == 1 ? nodes[0] : history.Directory.NodeOf(first.Src), [.. sure.Select(press => press.Press)],
            $"{times} got no answer from {findings.Words.Names(elements)}{again} ({proof}){why}.", FindingWords.EvidenceOf(silent), explained: nodes);
    }

    /// <summary>Chance that the answers were missed; where no number proves it, one press of so many could have come up so by chance.</summary>
    private static double ChanceOf(Silence[] silent, int asked) =>
        Math.Min(1, silent.Aggregate(1.0, (all, silence) => all * silence.MissChance) * (silent.Any(silence => silence.NothingSent) ? 1 : asked));

    /// <summary>Presses of the same source to the same address.</summary>
    private static int AskedOf(CaptureHistory history, int row)
    {
        (Protocol.MeshAddress src, Protocol.MeshAddress dst) = (history.Presses[row].Src, history.Presses[row].Dst);
        return history.Presses.Count(press => press.Src == src && press.Dst == dst);
    }
}
