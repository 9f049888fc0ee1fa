namespace MeshTrace.Analysis.Findings.Catalogue;

/// <summary>Friendship, proxy, heartbeat: what stands fixed about these findings, and who judges them.</summary>
internal static class FriendshipFindings
{
    internal static FindingDefinition[] Rows =>
    [
    ];

    internal static IFindingRule[] Rules =>
    [
    ];
}
