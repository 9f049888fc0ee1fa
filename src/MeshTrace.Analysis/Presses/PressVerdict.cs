using System.Runtime.InteropServices;
using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Presses;

/// <summary>Says how far each press got. 'Not heard' is not 'not sent': silence counts only where the receivers would have heard an answer.</summary>
internal sealed class PressVerdict(HeardShares heard, NodeDirectory nodes, Publishers publishers, StatesTold states)
{
    /// <summary>With a chance above this that all answers were there and missed, silence says nothing (ours; shown with the finding).</summary>
    public const double MostMissChance = 0.05;

    /// <summary>Answers come 20-500 ms after a request (Mesh Protocol 1.1 §3.7.3.1) and take some hops: the time in which a deaf receiver misses them (ours).</summary>
    private const long AnswersComeNs = 1_000_000_000;

    /// <summary>Of the press at hand: used again for each, as there may be many thousand.</summary>
    private readonly AddressMap<bool> _answered = new();
    private readonly List<MeshAddress> _silent = [];

    /// <summary>Not for several threads at once.</summary>
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
        _answered.Clear();
        foreach (ref readonly PressAnswer answer in CollectionsMarshal.AsSpan(press.Answers))
            _answered.TryAdd(answer.Element, true);
        _silent.Clear();
        int answered = 0;
        for (int at = 0; at < expected.Count; at++)
        {
            MeshAddress element = expected[at];
            if (_answered.Contains(element))
                answered++;
            else if (OwesAnAnswer(press, element))
                _silent.Add(element);
        }
        if (answered == expected.Count)
            press.Outcome = PressOutcome.All;
        else if (answered > 0)
            press.Outcome = _silent.Count > 0 ? PressOutcome.Some : PressOutcome.Unknown;
        else
            press.Outcome = _silent.Count > 0 && ChanceAllMissed(press, _silent) < MostMissChance ? PressOutcome.None : PressOutcome.Unknown;
    }

    /// <summary>
    /// True if the element would be heard when it acts: it is asked for a Status, or it publishes and was last heard in another state than the one asked for.
    /// </summary>
    public bool OwesAnAnswer(Press press, MeshAddress element) =>
        press.Acknowledged || (publishers.Publishes(element) && states.WouldChange(press, element));

    /// <summary>Chance that every one of these elements answered and the receivers missed all of it.</summary>
    private double ChanceAllMissed(Press press, IEnumerable<MeshAddress> silent)
    {
        if (press.TimeNs == CapturedFrame.NoTime)
            return 1;       // without times nobody knows when the receivers were deaf
        return heard.ChanceAllMissed(silent.Select(nodes.NodeOf), press.TimeNs, press.TimeNs + AnswersComeNs);
    }
}
