using MeshTrace.Analysis.Floods;

namespace MeshTrace.Analysis.Repeats;

/// <summary>
/// Transmissions of PDUs as heard, each advertising event counted once however many of its packets were heard. Everything is in transmissions: 3 means
/// sent three times, which the wire writes as 2 retransmissions.
/// </summary>
public sealed class RepeatCount
{
    /// <summary>A PDU is transmitted 8 times at most (Mesh Protocol 1.1 §4.2.20); the last place counts what was heard oftener.</summary>
    public const int MostTransmissions = 8;

    /// <summary>Perturbation of each interval (§4.2.20).</summary>
    private const int RandomMs = 10;

    /// <summary>A count of events heard so often is what the node sends, not a chance (thresholds ours).</summary>
    private const double OftenEnough = 0.05;
    private const int LeastSamples = 2;

    /// <summary>Of the distances of neighbouring events, so many are below the true interval by disturbance (threshold ours).</summary>
    private const double Outliers = 0.04;

    /// <summary>Reading of times and the channel an event was heard on leave this much open.</summary>
    private const double SlackMs = 0.9;

    private readonly int[] _events = new int[MostTransmissions + 2];
    private readonly DurationHistogram _spans = new();

    /// <summary>PDUs of which at least one event was heard, one for each receiver.</summary>
    public int Samples { get; private set; }

    /// <summary>Events heard in all.</summary>
    public long Events { get; private set; }

    /// <summary>Distances from one event heard to the next one heard of the same PDU; where one between them was missed it is a multiple.</summary>
    public DurationHistogram Distances { get; } = new();

    /// <summary>How many PDUs were heard with so many events, 1 to 8; 9 stands for more than a PDU may have.</summary>
    public int PdusWith(int events) => _events[Math.Min(events, MostTransmissions + 1)];

    /// <summary>The number of events that most PDUs were heard with.</summary>
    public int MostFrequentEvents => Samples == 0 ? 0 : Array.IndexOf(_events, _events.Max());

    /// <summary>
    /// Transmissions of a PDU: the highest number of events heard more than now and then, or, if higher, what is needed to fill the time from the first
    /// to the last event. With few samples or a low heard share the truth may be higher, never clearly lower. 0 without samples.
    /// </summary>
    public int Transmissions
    {
        get
        {
            int most = 0, atLeast = 0, needed = Samples == 0 ? 0 : (int)Math.Ceiling(Math.Max(Math.Min(LeastSamples, Samples), OftenEnough * Samples));
            for (int events = _events.Length - 1; events > 0 && most == 0; events--)
                if ((atLeast += _events[events]) >= needed)
                    most = Math.Min(events, MostTransmissions);
            if (IntervalMs is not { } interval || _spans.Count < needed || _spans.QuantileMs(1 - (needed / (double)(_spans.Count + 1))) is not { } span)
                return most;
            int filling = 1 + (int)Math.Ceiling((span - SlackMs) / (interval + RandomMs + SlackMs));
            return Math.Clamp(filling, most, MostTransmissions);
        }
    }

    /// <summary>
    /// The interval as a setting gives it, a multiple of 10 ms, to which each time 0-10 ms are added: the distances lie from it to 10 ms above it.
    /// Null where too few distances were heard or they fit no setting.
    /// </summary>
    public int? IntervalMs
    {
        get
        {
            if (Distances.Count < LeastSamples || Distances.QuantileMs(Outliers) is not { } low)
                return null;
            int interval = Math.Max(10, (int)((low + SlackMs) / 10) * 10);
            return SingleDistances(interval) >= Math.Max(LeastSamples, Distances.Count / 4) ? interval : null;
        }
    }

    /// <summary>Median of the distances that belong to one interval, multiples left out, in ms.</summary>
    public double? MedianDistanceMs
    {
        get
        {
            if (IntervalMs is not { } interval)
                return Distances.MedianMs;
            int before = Distances.CountWithin(0, (long)((interval - SlackMs) * 1e6));
            return Distances.QuantileMs((before + (SingleDistances(interval) / 2.0)) / Distances.Count);
        }
    }

    internal void Add(in Emission emission)
    {
        Samples++;
        Events += emission.Events;
        _events[Math.Min(emission.Events, MostTransmissions + 1)]++;
        int timed = Math.Min(emission.Events, EventTimes.Most);
        for (int i = 1; i < timed; i++)
            Distances.Add((emission.Begins[i] - emission.Begins[i - 1]) * 1000L);
        if (timed is > 1 and <= MostTransmissions)
            _spans.Add(emission.Begins[timed - 1] * 1000L);
    }

    private int SingleDistances(int intervalMs) =>
        Distances.CountWithin((long)((intervalMs - SlackMs) * 1e6), (long)((intervalMs + RandomMs + SlackMs) * 1e6));
}
