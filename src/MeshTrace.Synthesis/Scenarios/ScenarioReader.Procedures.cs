using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Scenarios;

/// <summary>Procedures of the network in the schedule: provisioning, IV update, key refresh.</summary>
internal static partial class ScenarioReader
{
    private const string ProcedureNames = "\"provision\", \"ivUpdate\" or \"keyRefresh\"";

    /// <summary>Longest time that an IV update may stay in progress (Mesh Protocol 1.1 §3.11.5): 96 h at least, 144 h at most.</summary>
    private const long IvUpdateUs = 96L * 3_600_000_000;

    private static IncidentPlan? ReadProcedure(ScenarioJson json, long at, Scenario scenario) =>
        json.Has("provision") ? ReadProvision(json, at, scenario)
        : json.Has("ivUpdate") ? ReadIvUpdate(json, at, scenario)
        : json.Has("keyRefresh") ? ReadKeyRefresh(json, at, scenario)
        : null;

    private static IvUpdatePlan ReadIvUpdate(ScenarioJson json, long at, Scenario scenario)
    {
        string node = NodeOf(json, "ivUpdate", scenario);
        if (scenario.NodeNamed(node) is not { SecureNetworkBeacon: true } and not { PrivateBeacon: true })
            throw json.WrongMember("ivUpdate", "this node sends no beacons: nobody would learn of the update");
        return new IvUpdatePlan { AtUs = at, Node = node, LastsUs = json.Seconds("lastsS", IvUpdateUs) };
    }

    private static KeyRefreshPlan ReadKeyRefresh(ScenarioJson json, long at, Scenario scenario)
    {
        int index = (int)json.Whole("keyRefresh", 0, 4095);
        if (!scenario.Network.NetKeys.Exists(key => key.Index == index))
            throw json.WrongMember("keyRefresh", "no NetKey has this index");
        string by = NodeOf(json, "by", scenario);
        int number = scenario.Schedule.Count(known => known is KeyRefreshPlan { NetKey: var before } && before == index);
        Randomness random = new Randomness(scenario.Seed).Fork("key refresh", (index * 1000L) + number);
        var plan = new KeyRefreshPlan
        {
            AtUs = at,
            Node = by,
            NetKey = index,
            NewNetKey = json.Octets("key", 16) ?? KeyFrom(random.Fork("net key")),
            ByBeacon = json.Flag("byBeacon", false),
            Phase2AfterUs = json.Seconds("phase2AfterS", 2_000_000),
            Phase3AfterUs = json.Seconds("phase3AfterS", 10_000_000),
        };
        plan.NewAppKeys.AddRange(scenario.Network.AppKeys.Where(key => key.NetKey == index)
            .Select(key => key with { Key = KeyFrom(random.Fork("app key", key.Index)) }));
        plan.Targets.AddRange(json.Has("nodes") ? json.Texts("nodes")
            : scenario.Nodes.Where(node => node.Name != by && node.NetKeys.Contains(index)).Select(node => node.Name));
        foreach (string name in plan.Targets.Where(name => scenario.NodeNamed(name) is null))
            throw json.WrongMember("nodes", $"no node is named \"{name}\"");
        return plan;
    }
}
