using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Radio;

/// <summary>Strength and extra loss of each pair of stations: told by the scenario's links, else from distance, walls and a fixed
/// shadow.</summary>
internal sealed class PairTable
{
    private readonly Dictionary<(string From, string To), LinkPlan> _told = [];
    private readonly BuildingPlan _building;
    private readonly ulong _shadowSeed;

    internal PairTable(Scenario scenario, IReadOnlyList<Station> stations, ulong shadowSeed)
    {
        (_building, _shadowSeed) = (scenario.Building, shadowSeed);
        var names = stations.Select(station => station.Name).ToHashSet(StringComparer.Ordinal);
        for (int i = 0; i < scenario.Links.Count; i++)
        {
            LinkPlan link = scenario.Links[i];
            foreach (string name in (ReadOnlySpan<string>)[link.From, link.To])
            {
                if (!names.Contains(name))
                    throw new ScenarioException(scenario.Name, $"$.links[{i}]", $"no node or receiver is named \"{name}\"");
            }
            _told[(link.From, link.To)] = link;
            if (link.BothWays)
                _told[(link.To, link.From)] = link;
        }
    }

    internal (int RssiDbm, double LossShare) Of(Station from, Station to)
    {
        LinkPlan? told = _told.GetValueOrDefault((from.Name, to.Name));
        return (told?.RssiDbm ?? Calculate(from, to), told?.LossShare ?? 0);
    }

    private int Calculate(Station from, Station to)
    {
        double loss = PathLoss.LossDb(from.Place.To(to.Place), _building.Exponent);
        foreach (WallPlan wall in _building.Walls)
        {
            if (PathLoss.Crosses(from.Place, to.Place, wall.From, wall.To))
                loss += wall.LossDb;
        }
        // The shadow of furniture and people: fixed for a pair, the same both ways.
        ulong low = (ulong)Math.Min(from.Index, to.Index), high = (ulong)Math.Max(from.Index, to.Index);
        double shadow = ((Randomness.Hash(_shadowSeed, low, high, 0) >> 11) * (1.0 / (1UL << 53)) * 2) - 1;
        return (int)Math.Round(from.TxPowerDbm - loss + (shadow * _building.ShadowDb), MidpointRounding.AwayFromZero);
    }
}
