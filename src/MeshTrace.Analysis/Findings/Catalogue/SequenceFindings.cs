namespace MeshTrace.Analysis.Findings.Catalogue;

/// <summary>Sequence numbers, IV index, key refresh: what stands fixed about these findings, and who judges them.</summary>
internal static class SequenceFindings
{
    internal static FindingDefinition[] Rows =>
    [
    ];

    internal static IFindingRule[] Rules =>
    [
    ];
}
