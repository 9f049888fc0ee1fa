using MeshTrace.Analysis.Repeats;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Floods;

/// <summary>What was heard of one node's transmissions of a PDU.</summary>
/// <param name="Events">Advertising events.</param>
/// <param name="SpanUs">From the first to the last of them.</param>
internal readonly record struct HeardEvents(int Events, int SpanUs)
{
    public static HeardEvents Of(in Emission emission) =>
        new(emission.Events, emission.Events == 0 ? 0 : emission.Begins[Math.Min(emission.Events, EventTimes.Most) - 1]);
}

/// <summary>From a copy with one TTL more to the relay's own, both the first ones heard.</summary>
/// <param name="DelayNs">Between the two.</param>
/// <param name="Hop">1 for the first relay; 0 where the original TTL is not known.</param>
/// <param name="From">Sent the copy with one TTL more.</param>
/// <param name="FromIsOrigin">That one originated the PDU.</param>
/// <param name="Own">Of the relay.</param>
/// <param name="Before">Of the one before.</param>
internal readonly record struct HeardDelay(long DelayNs, byte Hop, MeshAddress From, bool FromIsOrigin, HeardEvents Own, HeardEvents Before);

/// <summary>
/// Delays of one relay, a sample of bounded size. A missed first copy makes a delay too long or too short by the repeat interval, so only those count whose
/// first copies were surely heard: all transmissions of the PDU were, or the time from the first to the last one heard holds them all.
/// </summary>
internal sealed class DelaySample
{
    private const int Most = 1024;

    /// <summary>Fewer tell no median (ours).</summary>
    private const int Enough = 5;

    /// <summary>Each interval is longer than set by 0-10 ms (Mesh Protocol 1.1 §4.2.20).</summary>
    private const int RandomMs = 10;

    /// <summary>Reading of times and the channel an event was heard on leave this much open.</summary>
    private const int SlackUs = 1000;

    /// <summary>PDUs from which on what was heard tells the number of transmissions (ours).</summary>
    private const int EnoughPdus = 10;

    private readonly List<HeardDelay> _delays = [];
    private uint _random = 1;
    private int _met;

    /// <summary>Once the sample is full, each one met has the same chance to be in it.</summary>
    public void Add(HeardDelay delay)
    {
        _met++;
        if (_delays.Count < Most)
        {
            _delays.Add(delay);
            return;
        }
        _random = unchecked((_random * 1_664_525) + 1_013_904_223);        // constants of Numerical Recipes; the same capture gives the same sample
        long at = ((long)_random * _met) >> 32;
        if (at < Most)
            _delays[(int)at] = delay;
    }

    /// <summary>Counts those that are sure, for the relay and for each hop; none where they are too few.</summary>
    public void Judge(NodeRepeats repeats, MeshAddress relay, RelayCount count, DurationHistogram?[] byHop)
    {
        var plans = new Dictionary<(MeshAddress Node, bool IsOrigin), (int Transmissions, int? IntervalMs)>();
        List<HeardDelay> sure = _delays.FindAll(one => IsWhole(one.Own, PlanOf(relay, false)) && IsWhole(one.Before, PlanOf(one.From, one.FromIsOrigin)));
        if (sure.Count < Enough)
            return;
        foreach (HeardDelay one in sure)
        {
            count.Delays.Add(one.DelayNs);
            if (one.Hop > 0)
                (byHop[one.Hop] ??= new DurationHistogram()).Add(one.DelayNs);
        }

        (int Transmissions, int? IntervalMs) PlanOf(MeshAddress node, bool isOrigin)
        {
            if (!plans.TryGetValue((node, isOrigin), out (int Transmissions, int? IntervalMs) plan))
                plans.Add((node, isOrigin), plan = MakePlan(repeats, node, isOrigin));
            return plan;
        }
    }

    /// <summary>As set, or as heard, whatever is more; 0 transmissions where neither tells.</summary>
    private static (int Transmissions, int? IntervalMs) MakePlan(NodeRepeats repeats, MeshAddress node, bool isOrigin)
    {
        RepeatCount? heard = isOrigin ? repeats.NetworkTransmitOf(node) : repeats.RelayRetransmitOf(node);
        TransmitSetting? set = isOrigin ? repeats.Settings.NetworkTransmitAt(node, long.MaxValue) : repeats.Settings.RelayAt(node, long.MaxValue).Retransmit;
        if (heard is not { Samples: >= EnoughPdus })
            return (set?.Transmissions ?? 0, set?.IntervalMs);
        return (Math.Max(set?.Transmissions ?? 0, heard.Transmissions), heard.IntervalMs ?? set?.IntervalMs);
    }

    private static bool IsWhole(HeardEvents heard, (int Transmissions, int? IntervalMs) plan)
    {
        if (plan.Transmissions == 0 || heard.Events == 0 || heard.Events > plan.Transmissions)
            return false;
        return heard.Events == plan.Transmissions
            || (plan.IntervalMs is { } interval && heard.SpanUs > ((plan.Transmissions - 2) * (interval + RandomMs) * 1000) + SlackUs && heard.Events > 1);
    }
}
