namespace MeshTrace.Analysis.Findings.Catalogue;

/// <summary>Transactions: what stands fixed about these findings, and who judges them.</summary>
internal static class TransactionFindings
{
    internal static FindingDefinition[] Rows =>
    [
        new("transaction-number-reused", Severity.Fault,
            "a quick second press is ignored",
            "the same SRC, DST and TID within 6 s asks for another value: servers take it for a repetition and ignore it",
            "Raise the TID with each press, also for unacknowledged messages.",
            "Mesh Model 1.1 §3.3"),
    ];

    internal static IFindingRule[] Rules =>
    [
        new Rules.Transaction.TransactionNumberReused(),
    ];
}
