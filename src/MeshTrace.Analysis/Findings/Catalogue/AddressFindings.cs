namespace MeshTrace.Analysis.Findings.Catalogue;

/// <summary>Addresses, keys, bindings: what stands fixed about these findings, and who judges them.</summary>
internal static class AddressFindings
{
    internal static FindingDefinition[] Rows =>
    [
        new("nobody-subscribed", Severity.Fault,
            "the message arrives at the node, but my code never sees it",
            "a request goes to a group or label that no server model for it subscribes to, by the description and the Config messages heard",
            "Add the subscription (Config Model Subscription Add) on the element and model that should act, or correct the publish address.",
            "common practice, no source"),
    ];

    internal static IFindingRule[] Rules =>
    [
        new Rules.Address.NobodySubscribed(),
    ];
}
