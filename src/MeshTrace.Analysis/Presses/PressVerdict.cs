using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Presses;

/// <summary>Says how far each press got. 'Not heard' is not 'not sent': silence counts only where the receivers would have heard an answer.</summary>
internal sealed class PressVerdict(HeardShares heard, NodeDirectory nodes, Publishers publishers)
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
        bool anyAnswer = silent.Count < expected.Count;
        if (silent.Count == 0)
            press.Outcome = PressOutcome.All;
        else if (anyAnswer)
            press.Outcome = press.Acknowledged || silent.Any(element => publishers.Publishes(element)) ? PressOutcome.Some : PressOutcome.Unknown;
        else
            press.Outcome = ChanceAllMissed(press, silent) < MostMissChance ? PressOutcome.None : PressOutcome.Unknown;
    }

    /// <summary>Chance that every one of these elements answered and the receivers missed all of it; 1 where a share is not known.</summary>
    private double ChanceAllMissed(Press press, IEnumerable<MeshAddress> silent)
    {
        double chance = 1;
        foreach (MeshAddress element in silent)
        {
            if (!press.Acknowledged && !publishers.Publishes(element))
                continue;       // it would not have answered: its silence says nothing
            if (heard.FloodShareOf(nodes.NodeOf(element)) is { } share)
                chance *= 1 - share;
        }
        return chance;
    }
}
