using System.Collections.Frozen;

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
        new("nobody-subscribed", Severity.Fault,
            "the message arrives at the node, but my code never sees it",
            "a request goes to a group or label that no server model for it subscribes to, by the description and the Config messages heard",
            "Add the subscription (Config Model Subscription Add) on the element and model that should act, or correct the publish address.",
            "common practice, no source"),
        new("transaction-number-reused", Severity.Fault,
            "a quick second press is ignored",
            "the same SRC, DST and TID within 6 s asks for another value: servers take it for a repetition and ignore it",
            "Raise the TID with each press, also for unacknowledged messages.",
            "Mesh Model 1.1 §3.3"),
    ];

    private static readonly FrozenDictionary<string, FindingDefinition> ById = All.ToFrozenDictionary(row => row.Id, StringComparer.Ordinal);

    public static FindingDefinition Of(string id) => ById[id];
}
