namespace MeshTrace.Survey;

/// <summary>What a dataset tells of one site or of one capture.</summary>
internal sealed record ComparedSite
{
    public required string Name { get; init; }
    public required long Captures { get; init; }

    /// <summary>Captures of it that are damaged.</summary>
    public required long Damaged { get; init; }

    /// <summary>Captures of it in which nothing was decoded.</summary>
    public required long NothingDecoded { get; init; }
    public required long Frames { get; init; }
    public required long Presses { get; init; }
    public required long AnsweredByAll { get; init; }
    public required long AnsweredBySome { get; init; }

    /// <summary>Presses that nobody answered.</summary>
    public required long Lost { get; init; }

    /// <summary>Presses of which the recordings cannot tell.</summary>
    public required long Unknown { get; init; }

    /// <summary>Median of the presses' latencies in milliseconds, or null.</summary>
    public required double? LatencyMs { get; init; }

    /// <summary>Median of the nodes' heard shares, 0 to 1, or null.</summary>
    public required double? HeardShare { get; init; }

    /// <summary>Findings, most frequent first.</summary>
    public List<FindingCount> Findings { get; } = [];

    /// <summary>Presses that all answered, as a share of those whose fate is known; null where none is.</summary>
    public double? AnsweredShare => Presses - Unknown is > 0 and var known ? (double)AnsweredByAll / known : null;
}

/// <summary>How often a finding was made.</summary>
internal sealed record FindingCount(string Id, string Severity, long Count);

/// <summary>All sites or captures of a dataset, in the order of their names.</summary>
internal sealed record Comparison(bool ByCapture, IReadOnlyList<ComparedSite> Sites);
