using MeshTrace.Protocol;
using MeshTrace.Synthesis.Nodes;

namespace MeshTrace.Synthesis.Scenarios;

/// <summary>Which elements a press is for, by the subscriptions of a scenario.</summary>
internal static class Targets
{
    /// <summary>Where the press goes: as told, else where the panel's client model publishes.</summary>
    internal static MeshAddress DestinationOf(Scenario scenario, PressPlan press)
    {
        if (press.To is { } told)
            return told;
        NodePlan? panel = scenario.NodeNamed(press.Node);
        Request request = Request.Of(press.Asks);
        return panel is null || press.Element >= panel.Elements.Count ? MeshAddress.Unassigned
            : panel.Elements[press.Element].Models.Find(model => model.Id == request.ClientModel)?.Publish?.Address
                ?? MeshAddress.Unassigned;
    }

    /// <summary>Elements that hold a server model for the request and own or subscribe to the destination.</summary>
    /// <param name="dst">Null: as the scenario itself has it.</param>
    internal static IEnumerable<MeshAddress> Of(Scenario scenario, PressPlan press, MeshAddress? dst, List<string> omitted)
    {
        MeshAddress to = dst ?? DestinationOf(scenario, press);
        Request request = Request.Of(press.Asks);
        if (to == MeshAddress.Unassigned)
            return [];
        return scenario.Nodes
            .Where(node => !omitted.Contains(node.Name))
            .SelectMany(node => node.Models(), (node, item) => (Node: node, item.Element, item.Model))
            .Where(item => item.Model.Id == request.ServerModel &&
                (item.Element == to || item.Model.Subscribe.Contains(to)
                    || (to == MeshAddress.AllNodes && item.Element == item.Node.Unicast)))
            .Select(item => item.Element)
            .Distinct()
            .Order();
    }
}
