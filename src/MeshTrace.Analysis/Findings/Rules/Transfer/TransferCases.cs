using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Transfer;

/// <summary>Transfers between the same two ends with the same fault, the first one first.</summary>
/// <param name="Src">Sender's element.</param>
/// <param name="Dst">Where they went.</param>
internal sealed record TransferCase(MeshAddress Src, MeshAddress Dst)
{
    public List<int> Transfers { get; } = [];

    /// <summary>Of the one that shows it best.</summary>
    public Confidence Confidence { get; set; }

    /// <summary>Chances, one a transfer, that what was awaited came and was only missed; 0 for what rests on no silence.</summary>
    public List<double> MissChances { get; } = [];

    /// <summary>
    /// Chance that it was so all the time: of one transfer after the other where none between the two ends was ever acknowledged in full, else of the one
    /// that shows it best, for then those with a missed acknowledgment are the ones that look like this.
    /// </summary>
    public double MissChance(CaptureHistory history) =>
        history.Transfers.Any(transfer => transfer.Src == Src && transfer.Dst == Dst && transfer.Outcome == TransferOutcome.Acknowledged)
            ? MissChances.Min() : MissChances.Aggregate(1.0, (all, one) => all * one);

    /// <summary>Row of the first.</summary>
    public int First => Transfers[0];

    public IReadOnlyList<Evidence> Evidence => [.. Transfers.Select(row => new Evidence("transfer", row))];

    /// <summary>"once" or more, with the number of transfers between the two ends.</summary>
    public string Often(CaptureHistory history) => Transfers.Count == 1 ? ""
        : $" ({Transfers.Count} of {history.Transfers.Count(transfer => transfer.Src == Src && transfer.Dst == Dst)} transfers went like that)";
}

/// <summary>Gathers them: one cause is told once.</summary>
internal sealed class TransferCases
{
    private readonly Dictionary<(MeshAddress Src, MeshAddress Dst), TransferCase> _cases = [];

    public IEnumerable<TransferCase> All => _cases.Values;

    public void Add(CaptureHistory history, int row, Confidence confidence, double missChance = 0)
    {
        Analysis.Transfers.Transfer transfer = history.Transfers[row];
        if (!_cases.TryGetValue((transfer.Src, transfer.Dst), out TransferCase? found))
            _cases.Add((transfer.Src, transfer.Dst), found = new TransferCase(transfer.Src, transfer.Dst) { Confidence = confidence });
        found.Transfers.Add(row);
        found.MissChances.Add(missChance);
        found.Confidence = found.Confidence > confidence ? found.Confidence : confidence;
    }

    /// <summary>The message as a reader knows it: its size in segments.</summary>
    public static string Sized(Analysis.Transfers.Transfer transfer) => transfer.Segments == 1 ? "a message of 1 segment" : $"a message of {transfer.Segments} segments";

    /// <summary>So many ms later; times in a file may be anything.</summary>
    public static long Later(long timeNs, double ms) => (long)(ms * 1e6) is var ns && timeNs > long.MaxValue - ns ? long.MaxValue : timeNs + ns;

    /// <summary>When its last segment was heard.</summary>
    public static long LastSegmentNs(TransferTimeline timeline) => timeline.Rounds[^1].LastNs;
}
