namespace MeshTrace.Synthesis.Scenarios;

/// <summary>Faults between a phone and its proxy.</summary>
internal static partial class FaultCatalogue
{
    private static IEnumerable<FaultDefinition> PhoneRows() =>
    [
        new("proxy-filter-blocks",
            "the phone `node` does not add `group` (or any group that it subscribes to) to the filter of its proxy; with `room` instead: the proxy's filter has room for so many addresses only", false,
            (scenario, json) =>
            {
                NodePlan node = Node(scenario, json);
                PhonePlan phone = node.Phone ?? throw json.WrongMember("node", "this node is no phone");
                if (json.Has("room"))
                {
                    scenario.NodeNamed(phone.Proxy)!.Habits.ProxyFilterRoom = (int)json.Whole("room", 1, 1000);
                    return;
                }
                if (ScenarioReader.ReadAddress(json, "group", scenario) is { } group)
                    phone.ForgetsGroups.Add(group);
                else
                    phone.ForgetsGroups.UnionWith(node.Models().SelectMany(item => item.Model.Subscribe));
                if (!node.Models().SelectMany(item => item.Model.Subscribe).Any(phone.ForgetsGroups.Contains))
                    throw json.WrongMember("node", "this phone does not subscribe to it");
            }),
        new("proxy-not-forwarding", "the proxy `node` does not put on the air what a phone writes for other nodes", false,
            (scenario, json) =>
            {
                NodePlan proxy = Node(scenario, json);
                if (!scenario.Nodes.Exists(node => node.Phone?.Proxy == proxy.Name))
                    throw json.WrongMember("node", "no phone connects to this node");
                proxy.Habits.KeepsFromAir = true;
            }),
    ];
}
