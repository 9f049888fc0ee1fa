using System.Collections.Frozen;
using MeshTrace.Analysis.Findings.Catalogue;

namespace MeshTrace.Analysis.Findings;

/// <summary>What stands fixed about a finding; the rule adds the evidence and the sentence.</summary>
/// <param name="Id">Its name in records and documents.</param>
/// <param name="Severity">How bad it is when true.</param>
/// <param name="Asked">How users word it.</param>
/// <param name="Rule">When it is raised.</param>
/// <param name="Remedy">What to do, one sentence.</param>
/// <param name="Source">Where the rule comes from.</param>
public sealed record FindingDefinition(string Id, Severity Severity, string Asked, string Rule, string Remedy, string Source);

/// <summary>All findings, one row each.</summary>
public static class FindingCatalogue
{
    public static IReadOnlyList<FindingDefinition> All { get; } =
    [
        .. PressFindings.Rows,
        .. AddressFindings.Rows,
        .. SequenceFindings.Rows,
        .. TransferFindings.Rows,
        .. TransactionFindings.Rows,
        .. FriendshipFindings.Rows,
        .. JoiningFindings.Rows,
        .. CaptureFindings.Rows,
    ];

    private static readonly FrozenDictionary<string, FindingDefinition> ById = All.ToFrozenDictionary(row => row.Id, StringComparer.Ordinal);

    public static FindingDefinition Of(string id) => ById[id];
}
