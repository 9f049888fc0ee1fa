namespace MeshTrace.Benchmarks.Accuracy;

/// <summary>Cases of settings and of numbers.</summary>
internal static partial class FaultCases
{
    private static IEnumerable<FaultCase> Addresses() =>
    [
        new("model-not-on-element", Needs.None, network => [Fault("model-not-on-element", ("node", network.Lamp.Name), ("model", "1000"))],
            network => [network.Lamp, network.Panel], RequestToLampHeard, "a request to the lamp was heard"),
        new("appkey-not-bound", Needs.None, network => [Fault("appkey-not-bound", ("node", network.Lamp.Name), ("appKey", 0))],
            network => [network.Lamp, network.Panel], RequestToLampHeard, "a request to the lamp was heard"),
        new("appkey-of-other-subnet", Needs.None, network => [Fault("appkey-of-other-subnet", ("node", network.Panel.Name), ("appKey", 0), ("netKey", 1))],
            network => [network.Panel], RequestToLampHeard, "a request was heard"),
        new("panel-not-publishing", Needs.None, network => [Fault("panel-not-publishing", ("node", network.Panel.Name))], network => [network.Panel],
            _ => true, "the description says it"),
        new("config-refused", Needs.Joining, network => [Fault("config-refused", ("node", network.Joining!.Name), ("step", "bind"), ("status", 3))],
            network => [network.Joining!],
            composed => composed.Truth.Floods.Any(status => status.What == "Config Model App Status" && status.IsHeard && composed.Truth.Floods.Any(request =>
                request.What == "Config Model App Bind" && request.IsHeard && status.FirstNs - request.FirstNs is > 0 and < 150_000_000)),
            "a request and the Status that refuses it were heard"),
        new("setup-unfinished", Needs.Joining,
            network => [Fault("setup-unfinished", ("node", network.Joining!.Name), ("steps", new System.Text.Json.Nodes.JsonArray("composition", "app-keys")))],
            network => [network.Joining!], _ => true, "the description says it"),
        new("address-claimed-twice", Needs.None, network => [Fault("address-claimed-twice", ("node", network.Relays[0].Name), ("with", network.Panel.Name))],
            network => [network.Relays[0], network.Panel], _ => true, "the description says it"),
        new("address-reused-too-soon", Needs.None, network => [Fault("address-reused-too-soon", ("node", network.Panel.Name))],
            network => [network.Panel], composed => composed.Truth.CountOf(composed.Network.Panel).Heard > 0, "the description says it, and the node was heard"),
        new("replay-list-full", Needs.None, network => [Fault("replay-list-full", ("node", network.Lamp.Name), ("size", 1))], network => [network.Lamp],
            composed => RequestHeard(composed, composed.Network.Lamp) && FaultCase.SilenceTells(composed, composed.Network.Lamp, 3),
            "a request was heard, and three answers of the lamp would have been"),
    ];

    private static IEnumerable<FaultCase> Sequences() =>
    [
        new("sequence-went-backwards", Needs.None, network => [Fault("sequence-went-backwards", ("node", network.Panel.Name), ("atS", 50), ("sequence", 20))],
            network => [network.Panel],
            composed => composed.Truth.Floods.Count(flood => composed.Network.Panel.Owns(flood.Src) && flood.IsHeard && flood.Seq < 300) >= 2
                && composed.Truth.Floods.Any(flood => composed.Network.Panel.Owns(flood.Src) && flood.IsHeard && flood.Seq >= 300),
            "PDUs before and two after the change were heard"),
        new("sequence-jumped", Needs.None, network => [Fault("sequence-jumped", ("node", network.Panel.Name), ("atS", 50), ("by", 8000))],
            network => [network.Panel],
            composed => composed.Truth.Floods.Where(flood => composed.Network.Panel.Owns(flood.Src) && flood.IsHeard).GroupBy(flood => flood.Src)
                .Any(element => element.Count() >= 4 && element.Max(flood => flood.Seq) - element.Min(flood => flood.Seq) > 7000),
            "PDUs of one element before and after the jump were heard"),
        new("sequence-running-out", Needs.None, network => [Fault("sequence-running-out", ("node", network.Panel.Name))], network => [network.Panel],
            composed => composed.Truth.CountOf(composed.Network.Panel).Heard > 0, "a PDU of the node was heard"),
        new("iv-index-apart", Needs.None, network => [Fault("iv-index-apart", ("node", network.Beating[0].Name), ("behind", 1 + (network.Index % 2)))],
            network => [network.Beating[0]], composed => composed.Truth.CountOf(composed.Network.Beating[0]).Heard >= 3, "three PDUs of the node were heard"),
    ];

    private static bool RequestToLampHeard(Composition composed) =>
        composed.Truth.Presses.Any(press => press.Dst == composed.Network.Lamp.Unicast && composed.Truth.FloodsOf(press).Any(flood => flood.IsHeard));
}
