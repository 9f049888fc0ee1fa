using MeshTrace.Analysis.Findings;

namespace MeshTrace.Benchmarks.Accuracy;

internal enum Verdict
{
    Found,

    /// <summary>The evidence is in the capture, and nobody spoke.</summary>
    Missed,

    /// <summary>Too little was heard, and rightly nobody spoke.</summary>
    Withheld,
}

/// <summary>One wrong or missing word.</summary>
/// <param name="Case">Fault that was composed; "healthy" for the twin.</param>
/// <param name="Network">Which one.</param>
/// <param name="Id">Finding that is wrong or missing.</param>
/// <param name="Why">What the truth says.</param>
internal sealed record Complaint(string Case, DrawnNetwork Network, string Id, string Why);

/// <summary>The counts of one finding.</summary>
internal sealed class Tally(string id)
{
    /// <summary>Bands of the share of the network's PDUs that the receiver heard.</summary>
    public static readonly string[] BandNames = ["under 40", "40-60", "60-80", "80-100 %"];

    public static int Bands => BandNames.Length;

    private readonly int[,] _verdicts = new int[Bands, 3];

    public string Id { get; } = id;

    /// <summary>Captures in which the finding was raised although the truth contradicts it.</summary>
    public int Wrong { get; set; }

    /// <summary>Of those, on networks without fault, or whose fault it is not.</summary>
    public int WrongOnHealthy { get; set; }

    public int Count(Verdict verdict) => Enumerable.Range(0, Bands).Sum(band => Count(verdict, band));

    public int Count(Verdict verdict, int band) => _verdicts[band, (int)verdict];

    public void Add(Verdict verdict, double heardShare) => _verdicts[BandOf(heardShare), (int)verdict]++;

    public static int BandOf(double heardShare) => heardShare < 0.4 ? 0 : heardShare < 0.6 ? 1 : heardShare < 0.8 ? 2 : 3;

    public static bool Counts(Finding finding) => finding.Severity != Severity.Remark;
}
