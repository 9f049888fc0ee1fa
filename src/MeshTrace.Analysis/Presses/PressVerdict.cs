using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Presses;

/// <summary>Says how far each press got. 'Not heard' is not 'not sent': silence counts only where the receivers would have heard an answer.</summary>
internal sealed class PressVerdict(HeardShares heard, NodeDirectory nodes, Publishers publishers, StatesTold states)
{
    /// <summary>With a chance above this that all answers were there and missed, silence says nothing (ours; shown with the finding).</summary>
    public const double MostMissChance = 0.05;

    public void Decide(Press press)
    {
        if (press.Expected is not { } expected)
        {
            press.Outcome = PressOutcome.Unknown;
            return;
        }
        if (expected.Count == 0)
        {
            press.Outcome = PressOutcome.None;      // nobody subscribed: nothing can act
            return;
        }
        var silent = new HashSet<MeshAddress>(expected);
        foreach (PressAnswer answer in press.Answers)
            silent.Remove(answer.Element);
        int answered = expected.Count - silent.Count;
        if (silent.Count > 0)
            silent.RemoveWhere(element => !OwesAnAnswer(press, element));
        if (answered == expected.Count)
            press.Outcome = PressOutcome.All;
        else if (answered > 0)
            press.Outcome = silent.Count > 0 ? PressOutcome.Some : PressOutcome.Unknown;
        else
            press.Outcome = silent.Count > 0 && ChanceAllMissed(silent) < MostMissChance ? PressOutcome.None : PressOutcome.Unknown;
    }

    /// <summary>
    /// True if the element would be heard when it acts: it is asked for a Status, or it publishes and was last heard in another state than the one asked for.
    /// </summary>
    public bool OwesAnAnswer(Press press, MeshAddress element) =>
        press.Acknowledged || (publishers.Publishes(element) && states.WouldChange(press, element));

    /// <summary>Chance that every one of these elements answered and the receivers missed all of it; an element whose share is not known adds nothing.</summary>
    private double ChanceAllMissed(IEnumerable<MeshAddress> silent)
    {
        double chance = 1;
        foreach (MeshAddress element in silent)
            if (heard.FloodShareOf(nodes.NodeOf(element)) is { } share)
                chance *= 1 - share;
        return chance;
    }
}
