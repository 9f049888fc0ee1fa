using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings;

public enum Severity : byte
{
    Remark,
    Warning,
    Fault,
}

public enum Confidence : byte
{
    Possible,
    Likely,
    Certain,
}

/// <summary>What a finding rests on.</summary>
/// <param name="Record">Record kind: "frame", "flood", "message", "transfer", "press", "beacon", "provisioning", "node", "event", "note".</param>
/// <param name="Row">Row from 0.</param>
public readonly record struct Evidence(string Record, int Row);

/// <summary>One diagnosed fault or remark.</summary>
public sealed class Finding
{
    /// <summary>Identifier from the catalogue of findings, for example <c>nobody-subscribed</c>.</summary>
    public required string Id { get; init; }
    public required Severity Severity { get; init; }
    public required Confidence Confidence { get; init; }
    public required long TimeNs { get; init; }
    public MeshAddress? Node { get; init; }

    /// <summary>Row of the first press it is about, or null.</summary>
    public int? Press { get; init; }

    /// <summary>Rows of all presses it is about, in order: one cause may have cost many.</summary>
    public IReadOnlyList<int> Presses { get; init; } = [];

    /// <summary>One plain sentence.</summary>
    public required string Says { get; init; }
    public required IReadOnlyList<Evidence> Evidence { get; init; }
    public required string Remedy { get; init; }

    /// <summary>Primary addresses of nodes beside <see cref="Node"/> whose silence it explains.</summary>
    internal IReadOnlyList<MeshAddress> Explained { get; init; } = [];
}
