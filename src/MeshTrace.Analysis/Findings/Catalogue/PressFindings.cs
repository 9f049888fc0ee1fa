namespace MeshTrace.Analysis.Findings.Catalogue;

/// <summary>The press and its way: what stands fixed about these findings, and who judges them.</summary>
internal static class PressFindings
{
    internal static FindingDefinition[] Rows =>
    [
    ];

    internal static IFindingRule[] Rules =>
    [
    ];
}
