using MeshTrace.Protocol;
using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Scenarios;

/// <summary>The rows, by what they disturb.</summary>
internal static partial class FaultCatalogue
{
    private static IEnumerable<FaultDefinition> RadioRows() =>
    [
        new("interference",
            "bursts of energy at `place` from `fromS` to `untilS` on `channels` (all three), for `duty` of the time, with `powerDbm`",
            false,
            (scenario, json) =>
            {
                var (from, until) = Span(scenario, json);
                scenario.Interference.Add(new InterferencePlan
                {
                    Name = $"interference {scenario.Interference.Count + 1}", Place = json.Place("place"), FromUs = from, UntilUs = until,
                    Duty = json.Number("duty", 0, 1, 0.9), PowerDbm = (int)json.Whole("powerDbm", -40, 40, 15),
                    Channels = json.Has("channels") ? [.. json.Wholes("channels", 37, 39).Select(channel => (int)channel)] : [37, 38, 39],
                });
            }),
        new("lamp-powered-off", "`node` has no power from `fromS` to `untilS`", false,
            (scenario, json) => Node(scenario, json).PowerCuts.Add(Span(scenario, json))),
        new("press-not-on-air", "the panel `node` has no power from `fromS` to `untilS`: presses leave no trace", false,
            (scenario, json) => Node(scenario, json).PowerCuts.Add(Span(scenario, json))),
        new("receiver-deaf", "the receiver `receiver` gives nothing from `fromS` to `untilS`", false,
            (scenario, json) => Receiver(scenario, json).Deaf.Add(Span(scenario, json))),
        new("unknown-network", "`count` nodes of another network near `place`", false,
            (scenario, json) => scenario.Noise.Add(new NoisePlan
            {
                Kind = NoiseKind.Network, Place = json.Place("place"), Count = (int)json.Whole("count", 1, 100, 3),
                IntervalUs = json.Whole("intervalMs", 20, 3_600_000, 4000) * 1000,
            })),
        new("answer-lost-on-way-back", "Status messages of `node` do not get through to the requester from `fromS` to `untilS`", false,
            (scenario, json) => Node(scenario, json).AnswersLost.Add(Span(scenario, json))),
        new("acknowledgment-not-arriving", "Segment Acknowledgments of `node` do not get through from `fromS` to `untilS`", false,
            (scenario, json) => Node(scenario, json).AcknowledgmentsLost.Add(Span(scenario, json))),
    ];

    private static IEnumerable<FaultDefinition> ConfigurationRows() =>
    [
        new("nobody-subscribed", "the models of `node` do not subscribe to `group`; without `group` to nothing", true,
            (scenario, json) =>
            {
                MeshAddress? group = ScenarioReader.ReadAddress(json, "group", scenario);
                foreach (var (_, model) in Node(scenario, json).Models())
                    model.Subscribe.RemoveAll(address => group is null || address == group);
            }),
        new("appkey-not-bound", "AppKey `appKey` is not bound to the models of `node`", true,
            (scenario, json) =>
            {
                int appKey = (int)json.Whole("appKey", 0, 4095);
                foreach (var (_, model) in Node(scenario, json).Models())
                    model.Bind.Remove(appKey);
            }),
        new("appkey-missing", "`node` does not have AppKey `appKey` at all", true,
            (scenario, json) =>
            {
                int appKey = (int)json.Whole("appKey", 0, 4095);
                NodePlan node = Node(scenario, json);
                node.AppKeys.Remove(appKey);
                foreach (var (_, model) in node.Models())
                    model.Bind.Remove(appKey);
            }),
        new("ttl-exhausted",
            "`node` sends with TTL `ttl`: Default TTL and all publications; with `element` only the publications of that one", true,
            (scenario, json) =>
            {
                int ttl = (int)json.Whole("ttl", 0, 127);
                NodePlan node = Node(scenario, json);
                int element = (int)json.Whole("element", 0, node.Elements.Count - 1, -1);
                if (element < 0)
                    node.DefaultTtl = ttl;
                foreach (var (address, model) in node.Models())
                {
                    if (element < 0 || address.Value == node.Unicast.Value + element)
                        model.Publish?.Ttl = ttl;
                }
            }),
        new("relay-not-forwarding", "`node` does not relay", false, (scenario, json) => Node(scenario, json).Relay = 0),
        new("no-relay-on-path", "no node relays", true,
            (scenario, _) => scenario.Nodes.ForEach(node => node.Relay = node.Relay == 1 ? 0 : node.Relay)),
        new("relay-crowding", "every node relays, with `transmissions` transmissions", true,
            (scenario, json) =>
            {
                int transmissions = (int)json.Whole("transmissions", 1, 8, 3);
                scenario.Nodes.ForEach(node => (node.Relay, node.RelayRetransmit) = (1, new Repetition(transmissions, 20)));
            }),
        new("relayed-again", "the network message cache of `node` holds `cacheSize` PDUs only", false,
            (scenario, json) => Node(scenario, json).CacheSize = (int)json.Whole("cacheSize", 1, 1024, 1)),
        new("sent-once-only", "`node` (or every node) sends each PDU once", true,
            (scenario, json) =>
            {
                foreach (NodePlan node in NodesOf(scenario, json))
                    (node.NetworkTransmit, node.RelayRetransmit) = (new Repetition(1, 10), new Repetition(1, 10));
            }),
        new("repeats-too-close", "`node` (or every node) repeats every 10 ms", true,
            (scenario, json) =>
            {
                foreach (NodePlan node in NodesOf(scenario, json))
                    node.NetworkTransmit = node.NetworkTransmit with { IntervalMs = 10 };
            }),
        new("panel-not-publishing", "the models of `node` publish nowhere", true,
            (scenario, json) =>
            {
                foreach (var (_, model) in Node(scenario, json).Models())
                    model.Publish = null;
            }),
        new("address-claimed-twice", "`node` has the unicast address of `with`", true,
            (scenario, json) => Node(scenario, json).Unicast = Node(scenario, json, "with").Unicast),
        new("replay-list-full", "the replay list of `node` holds `size` sources only", true,
            (scenario, json) => Node(scenario, json).ReplayListSize = (int)json.Whole("size", 1, 4096)),
    ];

    private static IEnumerable<FaultDefinition> TrafficRows() =>
    [
        new("sequence-went-backwards", "at `atS` the sequence number of `node` goes back to `sequence`", false,
            (scenario, json) => scenario.Schedule.Add(new SequencePlan
            {
                AtUs = json.Seconds("atS"), Node = Node(scenario, json).Name, Sequence = (uint)json.Whole("sequence", 0, 0xFFFFFF, 0),
            })),
        new("iv-index-apart", "`node` is `behind` below the network's IV index", false,
            (scenario, json) =>
            {
                long behind = json.Whole("behind", 1, 1000, 1);
                NodePlan node = Node(scenario, json);
                node.IvIndex = (uint)Math.Max(0, scenario.Network.IvIndex - behind);
                node.Habits.KeepsIvIndex = true;
            }),
        new("transaction-number-reused", "the panel `node` does not raise its TID", false, (scenario, json) =>
            Node(scenario, json).RaisesTid = false),
        new("transfer-refused", "`node` acknowledges segmented messages with block 0", false, (scenario, json) =>
            Node(scenario, json).RefusesTransfers = true),
    ];
}
