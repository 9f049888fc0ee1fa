using MeshTrace.Analysis.History;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings;

/// <summary>A finding that would have rested on silence, where the silence says too little.</summary>
/// <param name="Id">Which finding.</param>
/// <param name="Node">Primary address of the node that was not heard.</param>
/// <param name="Press">Row of the press, or null.</param>
/// <param name="MissChance">Chance that what was awaited was sent and missed.</param>
internal readonly record struct Withheld(string Id, MeshAddress Node, int? Press, double MissChance);

/// <summary>
/// Says what silence is worth. A finding that rests on absence is likely only if the chance that the receivers merely missed it is small, possible if it
/// is moderate, and else not raised: <c>capture-too-thin</c> stands in its place.
/// </summary>
internal sealed class Weighing(CaptureHistory history)
{
    /// <summary>With a chance below these that it was there and missed, absence makes a finding likely, or possible (ours; the chance stands in the sentence).</summary>
    public const double LikelyBelow = 0.05, PossibleBelow = 0.30;

    /// <summary>Keeps what is noted small, whatever the capture.</summary>
    private const int MostWithheld = 10_000;

    private readonly List<Withheld> _withheld = [];

    /// <summary>What was not raised because too little was heard.</summary>
    public IReadOnlyList<Withheld> Withheld => _withheld;

    /// <summary>What a chance of having missed it leaves of a finding that rests on absence; null: nothing.</summary>
    public static Confidence? Of(double missChance) => missChance < LikelyBelow ? Confidence.Likely : missChance < PossibleBelow ? Confidence.Possible : null;

    /// <summary>The weaker of two.</summary>
    public static Confidence Weaker(Confidence one, Confidence other) => one < other ? one : other;

    /// <summary>
    /// Chance that a node sent so many PDUs within a time and the receivers missed them all: 1 where nothing tells how well the node is heard, where the
    /// receivers were deaf, or where the capture has no times.
    /// </summary>
    /// <param name="node">Primary address.</param>
    /// <param name="expectedPdus">Network PDUs that it should have sent, each counted once however often it is transmitted.</param>
    /// <param name="fromNs">Begin of the time in which they should have come.</param>
    /// <param name="toNs">Its end.</param>
    public double MissChance(MeshAddress node, int expectedPdus, long fromNs, long toNs)
    {
        if (fromNs == CapturedFrame.NoTime || toNs == CapturedFrame.NoTime || history.HeardShares is not { } shares)
            return 1;
        (long first, long last) = history.TimeSpanNs ?? (long.MaxValue, long.MinValue);
        if (fromNs < first || toNs > last)
            return 1;       // the capture does not cover it
        return shares.ChanceAllMissed(node, expectedPdus, fromNs, toNs);
    }

    /// <summary>Judges the silence of a node; what is withheld is noted.</summary>
    /// <param name="id">The finding that would rest on it.</param>
    /// <param name="node">Primary address.</param>
    /// <param name="expectedPdus">Network PDUs that it should have sent.</param>
    /// <param name="fromNs">Begin of the time in which they should have come.</param>
    /// <param name="toNs">Its end.</param>
    /// <param name="press">Row of the press, or null.</param>
    /// <returns>How sure the finding is, or null: it is not raised.</returns>
    public Confidence? Judge(string id, MeshAddress node, int expectedPdus, long fromNs, long toNs, int? press = null) =>
        Judge(id, node, MissChance(node, expectedPdus, fromNs, toNs), press);

    /// <summary>As above, for a chance that is known already.</summary>
    public Confidence? Judge(string id, MeshAddress node, double missChance, int? press = null)
    {
        Confidence? judged = Of(missChance);
        if (judged is null && _withheld.Count < MostWithheld)
            _withheld.Add(new Withheld(id, node, press, missChance));
        return judged;
    }
}
