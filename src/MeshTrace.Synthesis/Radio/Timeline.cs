namespace MeshTrace.Synthesis.Radio;

/// <summary>Something that happens at one moment of the simulated clock.</summary>
internal abstract class Occurrence
{
    internal abstract void Happen();
}

/// <summary>A call that may be taken back before its time.</summary>
internal sealed class Alarm(Action call) : Occurrence
{
    internal bool Cancelled { get; set; }

    internal override void Happen()
    {
        if (!Cancelled)
            call();
    }
}

/// <summary>
/// The simulated clock and what is due, in µs since the start of the scenario. Occurrences of the same microsecond happen in the order in
/// which they were entered, so a run depends on nothing but the scenario.
/// </summary>
internal sealed class Timeline
{
    private readonly MomentHeap<Occurrence> _due = new();

    internal long NowUs { get; private set; }

    /// <summary>Enters an occurrence; one for the past happens next.</summary>
    internal void At(long timeUs, Occurrence what) => _due.Add(Math.Max(timeUs, NowUs), what);

    internal Alarm At(long timeUs, Action call)
    {
        var alarm = new Alarm(call);
        At(timeUs, alarm);
        return alarm;
    }

    internal Alarm After(long delayUs, Action call) => At(NowUs + delayUs, call);

    /// <summary>Lets everything up to and including <paramref name="endUs"/> happen.</summary>
    internal void RunUntil(long endUs)
    {
        while (_due.Count > 0 && _due.FirstTime <= endUs)
        {
            NowUs = _due.FirstTime;
            _due.TakeFirst().Happen();
        }
        NowUs = Math.Max(NowUs, endUs);
    }
}
