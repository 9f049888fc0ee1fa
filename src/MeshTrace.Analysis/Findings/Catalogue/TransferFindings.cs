namespace MeshTrace.Analysis.Findings.Catalogue;

/// <summary>Segmented messages: what stands fixed about these findings, and who judges them.</summary>
internal static class TransferFindings
{
    internal static FindingDefinition[] Rows =>
    [
    ];

    internal static IFindingRule[] Rules =>
    [
    ];
}
