namespace MeshTrace.Analysis.Findings.Catalogue;

/// <summary>The capture itself: what stands fixed about these findings, and who judges them.</summary>
internal static class CaptureFindings
{
    internal static FindingDefinition[] Rows =>
    [
    ];

    internal static IFindingRule[] Rules =>
    [
    ];
}
