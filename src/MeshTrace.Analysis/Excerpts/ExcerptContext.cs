namespace MeshTrace.Analysis.Excerpts;

/// <summary>
/// How much is taken beside what was asked for. The verdict on a press that nobody answered rests on how much of the silent nodes was heard: too little
/// of it, and "nobody" becomes "cannot be told". So an excerpt whose verdicts differ is taken wider, and in the end whole.
/// </summary>
/// <param name="AroundPressNs">Before the first request of a press and behind its last answer.</param>
/// <param name="AroundTimeNs">Before and behind a time that was asked for.</param>
/// <param name="Neighbours">Floods of each node that takes part in a press, before it and behind it.</param>
/// <param name="Whole">Everything.</param>
public readonly record struct ExcerptContext(long AroundPressNs, long AroundTimeNs, int Neighbours, bool Whole)
{
    /// <summary>Ten seconds: a transaction lasts 6 s (Mesh Model 1.1 §3.3), and a PDU heard again within 10 s is the same flood.</summary>
    public const long SecondsAroundPress = 10;

    /// <summary>With so many numbers on both sides, all heard, a silent node is missed by chance in fewer than 5 % of the cases.</summary>
    public const int NeighboursAtFirst = 48;

    /// <summary>Wider and wider, at most so often; then whole.</summary>
    public const int MostWidenings = 4;

    private const int WiderBy = 4;
    private const long NsPerSecond = 1_000_000_000;

    /// <summary>The context of a try: 0 is the first one.</summary>
    public static ExcerptContext OfTry(int number)
    {
        if (number > MostWidenings)
            return new ExcerptContext(0, 0, 0, Whole: true);
        int wider = 1;
        for (int i = 0; i < number; i++)
            wider *= WiderBy;
        long around = SecondsAroundPress * NsPerSecond * wider;
        return new ExcerptContext(around, number == 0 ? 0 : around, NeighboursAtFirst * wider, Whole: false);
    }
}
