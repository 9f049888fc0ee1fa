namespace MeshTrace.Analysis.Findings.Catalogue;

/// <summary>Transactions: what stands fixed about these findings, and who judges them.</summary>
internal static class TransactionFindings
{
    internal static FindingDefinition[] Rows =>
    [
        new("transaction-number-reused", Severity.Fault,
            "a quick second press is ignored",
            "the same SRC, DST and TID within 6 s asks for another value, and not all lamps showed it: servers take it for a repetition and ignore it",
            "Raise the TID with each press, also for unacknowledged messages.",
            "Mesh Model 1.1 §3.3"),
        new("repeat-counted-as-new", Severity.Warning,
            "the lamp toggles twice, or dims too far",
            "three to eight times the same request with TIDs one apart, each within 1 s, so evenly (10 ms, or 60 ms over all rows of a panel) that a machine sends them",
            "Repeat with the same TID, or set Publish Retransmit instead of publishing anew.",
            "Mesh Model 1.1 §3.3"),
        new("doubled-status", Severity.Remark,
            "I get every status twice",
            "the same Status to the client and to an address that the client receives too, within 1 s, twice or more",
            "Normal by the model rules: publish to an address that the client does not listen to, or let the client leave out the second.",
            "common practice, no source"),
    ];

    internal static IFindingRule[] Rules =>
    [
        new Rules.Transaction.TransactionNumberReused(),
        new Rules.Transaction.RepeatCountedAsNew(),
        new Rules.Transaction.DoubledStatus(),
    ];
}
