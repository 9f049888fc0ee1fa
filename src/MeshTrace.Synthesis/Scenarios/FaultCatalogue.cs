namespace MeshTrace.Synthesis.Scenarios;

/// <summary>One fault that a scenario can name.</summary>
/// <param name="Name">The name in the scenario; the id of the finding that tells of it where there is one.</param>
/// <param name="Says">What it does, for docs/scenarios.md.</param>
/// <param name="Described">True if the written description knows of it unless the scenario says otherwise.</param>
/// <param name="Apply">Changes the scenario; reads its own members.</param>
internal sealed record FaultDefinition(string Name, string Says, bool Described, Action<Scenario, ScenarioJson> Apply);

/// <summary>
/// The table of faults. A fault is a change to the scenario as it really is; whether the description knows of it is told for each. A new
/// fault is a row here, and where the network needs a new habit, a member of the node's plan.
/// </summary>
internal static partial class FaultCatalogue
{
    private static readonly Dictionary<string, FaultDefinition> ByName = Rows().ToDictionary(row => row.Name, StringComparer.Ordinal);

    internal static IEnumerable<string> Names => ByName.Keys.Order(StringComparer.Ordinal);

    internal static IEnumerable<FaultDefinition> All => ByName.Values.OrderBy(row => row.Name, StringComparer.Ordinal);

    internal static bool Knows(string name) => ByName.ContainsKey(name);

    internal static bool IsDescribed(string name) => ByName[name].Described;

    /// <summary>Brings the faults into a scenario: all of them, or only those that the description knows of.</summary>
    internal static void Apply(Scenario scenario, bool onlyDescribed)
    {
        foreach (FaultPlan fault in scenario.Faults)
        {
            if (onlyDescribed && !fault.Described)
                continue;
            ByName[fault.Name].Apply(scenario, fault.Arguments);
            fault.Arguments.Finish();
        }
    }

    private static IEnumerable<FaultDefinition> Rows() =>
    [
        .. RadioRows(), .. ConfigurationRows(), .. TrafficRows(), .. PressRows(), .. SetupRows(), .. SegmentRows(), .. ReceiverRows(), .. ProcedureRows(), .. PhoneRows(),
    ];

    private static NodePlan Node(Scenario scenario, ScenarioJson json, string member = "node") =>
        scenario.NodeNamed(ScenarioReader.NodeOf(json, member, scenario))!;

    /// <summary>The nodes that "node" names, or all.</summary>
    private static List<NodePlan> NodesOf(Scenario scenario, ScenarioJson json) =>
        json.Has("node") ? [Node(scenario, json)] : scenario.Nodes;

    private static (long FromUs, long UntilUs) Span(Scenario scenario, ScenarioJson json) =>
        (json.Seconds("fromS", 0), json.Seconds("untilS", scenario.DurationUs));
}
