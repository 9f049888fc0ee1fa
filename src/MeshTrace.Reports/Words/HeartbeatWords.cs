using System.Globalization;
using MeshTrace.Analysis.Nodes;

namespace MeshTrace.Reports.Words;

/// <summary>How far Heartbeats had come, in words.</summary>
internal static class HeartbeatWords
{
    public static string Of(HeartbeatHops hops) => hops.LeastHops == hops.MostHops
        ? string.Create(CultureInfo.InvariantCulture, $"heard after {hops.LeastHops} hop{(hops.LeastHops == 1 ? "" : "s")}")
        : string.Create(CultureInfo.InvariantCulture, $"heard after {hops.LeastHops} to {hops.MostHops} hops");
}
