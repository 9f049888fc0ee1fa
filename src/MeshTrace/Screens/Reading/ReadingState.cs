using MeshTrace.Analysis.Presses;

namespace MeshTrace.Screens.Reading;

/// <summary>How far the reading of the captures has come; never changes once made, so it may pass between threads.</summary>
/// <param name="Frames">Frames read.</param>
/// <param name="Share">0 to 1, or null where the length is not known.</param>
/// <param name="Presses">The presses known until then, in words.</param>
internal sealed record ReadingState(long Frames, double? Share, IReadOnlyList<PressLine> Presses)
{
    public static readonly ReadingState Begun = new(0, 0, []);
}

/// <summary>One press in words, apart from the history it came from.</summary>
internal sealed record PressLine(long TimeNs, string From, string To, string Asks, PressOutcome Outcome, string Reach, string Detail);
