namespace MeshTrace.Synthesis.Radio;

/// <summary>On which advertising channels a station listens, and when.</summary>
/// <param name="Channel">37, 38 or 39 for one fixed channel; 0 to hop; -1 for three radios, one a channel.</param>
/// <param name="IntervalUs">Time on one channel before the next one (scan interval), for hopping.</param>
/// <param name="WindowUs">Listening time at the start of each interval (scan window).</param>
/// <param name="PhaseUs">Shifts the pattern, so that stations do not hop in step.</param>
public readonly record struct ScanPlan(int Channel, long IntervalUs, long WindowUs, long PhaseUs)
{
    public static ScanPlan AllThree => new(-1, 1, 1, 0);

    /// <summary>True if the station listens on <paramref name="channel"/> from the first to the last microsecond.</summary>
    public bool Listens(int channel, long fromUs, long untilUs)
    {
        if (Channel < 0)
            return true;
        long slot = (fromUs + PhaseUs) / IntervalUs, into = (fromUs + PhaseUs) % IntervalUs;
        if (into + (untilUs - fromUs) > WindowUs)
            return false;
        return channel == (Channel == 0 ? 37 + (int)(slot % 3) : Channel);
    }
}
