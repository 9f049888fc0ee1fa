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
/// <param name="Limits">How sure it can be and what speaks against it, or null where nothing is to be added to the rule.</param>
public sealed record FindingDefinition(string Id, Severity Severity, string Asked, string Rule, string Remedy, string Source, string? Limits = null);

/// <summary>Findings about one matter.</summary>
/// <param name="Title">As a heading.</param>
/// <param name="Rows">In the order of the catalogue.</param>
public sealed record FindingArea(string Title, IReadOnlyList<FindingDefinition> Rows);

/// <summary>All findings, one row each.</summary>
public static class FindingCatalogue
{
    /// <summary>By what they are about.</summary>
    public static IReadOnlyList<FindingArea> Areas { get; } =
    [
        new("The press and its way", PressFindings.Rows),
        new("Addresses, keys, bindings", AddressFindings.Rows),
        new("Sequence numbers, IV index, key refresh", SequenceFindings.Rows),
        new("Segmented messages", TransferFindings.Rows),
        new("Transactions", TransactionFindings.Rows),
        new("Friendship, proxy, heartbeat", FriendshipFindings.Rows),
        new("Joining the network", JoiningFindings.Rows),
        new("The capture itself", CaptureFindings.Rows),
    ];

    public static IReadOnlyList<FindingDefinition> All { get; } = [.. Areas.SelectMany(area => area.Rows)];

    private static readonly FrozenDictionary<string, FindingDefinition> ById = All.ToFrozenDictionary(row => row.Id, StringComparer.Ordinal);

    public static FindingDefinition Of(string id) => ById[id];
}
