namespace MeshTrace.Analysis.Findings.Catalogue;

/// <summary>Joining the network: what stands fixed about these findings, and who judges them.</summary>
internal static class JoiningFindings
{
    internal static FindingDefinition[] Rows =>
    [
    ];

    internal static IFindingRule[] Rules =>
    [
    ];
}
