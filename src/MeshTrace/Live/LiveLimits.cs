namespace MeshTrace.Live;

/// <summary>How much of a live run is remembered.</summary>
/// <param name="LengthNs">How far back, by the capture's clock.</param>
/// <param name="MostFrames">How many frames at most, whatever the length.</param>
internal sealed record LiveLimits(long LengthNs, int MostFrames)
{
    public const int UsualMinutes = 60, LongestMinutes = 1440, UsualFrames = 1_000_000;
    public const long NsPerMinute = 60_000_000_000;

    public static readonly LiveLimits Usual = new(UsualMinutes * NsPerMinute, UsualFrames);

    /// <summary>What is too old goes in portions of a quarter, because each time the history is made anew.</summary>
    public long LengthToDropAtNs => LengthNs + (LengthNs / 4);

    /// <summary>Likewise for frames: never more than this are remembered.</summary>
    public int FramesToDropAt => MostFrames + (MostFrames / 4);
}
