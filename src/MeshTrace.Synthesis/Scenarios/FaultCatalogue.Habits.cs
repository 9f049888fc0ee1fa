using System.Globalization;
using MeshTrace.Protocol;
using MeshTrace.Synthesis.Nodes;
using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Scenarios;

/// <summary>Rows that give a node or receiver a wrong habit.</summary>
internal static partial class FaultCatalogue
{
    private static IEnumerable<FaultDefinition> PressRows() =>
    [
        new("press-unanswered", "the models of `node` miss `share` (1) of the requests from `fromS` to `untilS`", false, LoseRequests),
        new("some-lamps-silent", "the models of `node` miss `share` (1) of the requests from `fromS` to `untilS`, one node of a group", false,
            LoseRequests),
        new("channel-crowded", "`count` (24) advertisers near `place`, each every `intervalMs` (20), from `fromS` to `untilS`", false,
            (scenario, json) =>
            {
                var (from, until) = Span(scenario, json);
                scenario.Noise.Add(new NoisePlan
                {
                    Kind = NoiseKind.Tag, Place = json.Place("place"), Count = (int)json.Whole("count", 1, 200, 24),
                    IntervalUs = json.Whole("intervalMs", 20, 1000, 20) * 1000, FromUs = from, UntilUs = until,
                });
            }),
        new("answers-collide", "presses of `node` to groups ask for answers", false,
            (scenario, json) =>
            {
                string name = Node(scenario, json).Name;
                foreach (PressPlan press in scenario.Schedule.OfType<PressPlan>().Where(press => press.Node == name))
                    press.Acknowledged |= !Targets.DestinationOf(scenario, press).IsUnicast;
            }),
        new("node-falls-behind", "`node` relays one PDU after the other, `paceMs` (120) each; at most `room` (8) wait", false,
            (scenario, json) => Node(scenario, json).Habits.RelayQueue =
                new RelayQueueHabit((int)json.Whole("room", 1, 1000, 8), json.Whole("paceMs", 1, 10_000, 120) * 1000)),
        new("repeat-counted-as-new", "the panel `node` sends each press `times` (3) times, `intervalMs` (200) apart, each with the next TID",
            false,
            (scenario, json) => Node(scenario, json).Habits.Renumbering =
                new RenumberingHabit((int)json.Whole("times", 2, 20, 3), json.Whole("intervalMs", 20, 5000, 200) * 1000)),
        new("doubled-status", "the server models of `node` publish their state to `to`, the requester, beside answering it", true,
            (scenario, json) =>
            {
                MeshAddress to = ScenarioReader.ReadAddress(json, "to", scenario) ?? throw json.WrongMember("to", "this member is needed");
                foreach (var (_, model) in Node(scenario, json).Models().Where(item => Request.KindOf(item.Model.Id) is not null))
                    model.Publish = new PublishPlan { Address = to, AppKey = model.Bind.Count > 0 ? model.Bind[0] : 0 };
            }),
        new("heartbeat-silent", "`node` sends no heartbeat from `fromS` to `untilS`", false,
            (scenario, json) => Node(scenario, json).Habits.HeartbeatCuts.Add(Span(scenario, json))),
    ];

    private static IEnumerable<FaultDefinition> SetupRows() =>
    [
        new("model-not-on-element", "`node` lacks the model `model` (4 hex digits)", true,
            (scenario, json) =>
            {
                string text = json.Text("model");
                if (!uint.TryParse(text, NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out uint id))
                    throw json.WrongMember("model", "a model is 4 hex digits");
                Node(scenario, json).Elements.ForEach(element => element.Models.RemoveAll(model => model.Id == id));
            }),
        new("appkey-of-other-subnet", "`node` sends with AppKey `appKey` under NetKey `netKey`, to which that AppKey is not bound", false,
            (scenario, json) =>
            {
                int netKey = (int)json.Whole("netKey", 0, 4095);
                if (!scenario.Network.NetKeys.Exists(known => known.Index == netKey))
                    throw json.WrongMember("netKey", "no NetKey has this index");
                Node(scenario, json).Habits.SubnetOfAppKey[(int)json.Whole("appKey", 0, 4095)] = netKey;
            }),
        new("config-refused", "`node` refuses the configuration step `step` with status code `status` (3, Invalid AppKey Index)", false,
            (scenario, json) =>
            {
                string step = json.Text("step");
                if (!ConfigurationSteps.Refusable.Contains(step))
                    throw json.WrongMember("step", $"one of {string.Join(", ", ConfigurationSteps.Refusable)} is expected");
                Node(scenario, json).Habits.Refuses[step] = (byte)json.Whole("status", 1, 255, 3);
            }),
        new("setup-unfinished", "the setup of `node` ends after `steps`; without them nothing is set up", true,
            (scenario, json) =>
            {
                List<string> done = [.. json.Texts("steps")];
                NodePlan node = Node(scenario, json);
                node.Habits.SetupCutOff = true;
                foreach (ConfigurePlan setup in scenario.Schedule.OfType<ConfigurePlan>().Where(setup => setup.Node == node.Name))
                {
                    setup.Steps.Clear();
                    setup.Steps.AddRange(done);
                }
                if (done.Count == 0)
                    scenario.Schedule.RemoveAll(incident => incident is ConfigurePlan && incident.Node == node.Name);
                if (!done.Contains("app-keys"))
                    node.AppKeys.Clear();
                foreach (var (_, model) in node.Models())
                    ForgetSteps(model, done);
            }),
        new("address-reused-too-soon",
            "`node` has the address of a device that was removed at this IV index; the others remember its SEQ `sequence` (65536)", true,
            (scenario, json) => scenario.Network.Exclusions.Add(
                new ExclusionPlan(Node(scenario, json).Unicast, (uint)json.Whole("sequence", 0, 0xFFFFFF, 0x10000)))),
    ];

    private static IEnumerable<FaultDefinition> SegmentRows() =>
    [
        new("sequence-jumped", "at `atS` the sequence number of `node` goes forward by `by` (1000)", false,
            (scenario, json) => scenario.Schedule.Add(new SequencePlan
            {
                AtUs = json.Seconds("atS"), Node = Node(scenario, json).Name, Sequence = (uint)json.Whole("by", 1, 0xFFFFFF, 1000),
                IsForward = true,
            })),
        new("sequence-running-out", "`node` begins with the sequence number `sequence` (13000000)", false,
            (scenario, json) => Node(scenario, json).FirstSequence = (uint)json.Whole("sequence", 0, 0xFFFFFF, 13_000_000)),
        new("transfer-given-up", "`node` never sees segments, or only never segment `segment`, from `fromS` to `untilS`", false,
            (scenario, json) =>
            {
                var (from, until) = Span(scenario, json);
                Node(scenario, json).Habits.SegmentsLost.Add(
                    new SegmentLossHabit(from, until, json.Has("segment") ? (int)json.Whole("segment", 0, 31) : null));
            }),
        new("reassembly-timed-out", "`node` pauses for `pauseS` (12) before the last segment of a message", false,
            (scenario, json) => Node(scenario, json).Habits.SegmentPauseUs = json.Seconds("pauseS", 12_000_000)),
        new("transfer-slow", "`node` sends a segment every `intervalMs` (1000) only", false,
            (scenario, json) => Node(scenario, json).Habits.SegmentIntervalMs = (int)json.Whole("intervalMs", 1, 60_000, 1000)),
        new("transfer-to-group", "the transfers of `node` go to `group`", false,
            (scenario, json) =>
            {
                string name = Node(scenario, json).Name;
                MeshAddress group = ScenarioReader.ReadAddress(json, "group", scenario)
                    ?? throw json.WrongMember("group", "this member is needed");
                foreach (TransferPlan transfer in scenario.Schedule.OfType<TransferPlan>().Where(transfer => transfer.Node == name))
                    transfer.To = group;
            }),
    ];

    private static IEnumerable<FaultDefinition> ReceiverRows() =>
    [
        new("capture-too-thin", "the receiver `receiver` gives `share` (0.3) of the packets", false,
            (scenario, json) => Receiver(scenario, json).HeardShare = json.Number("share", 0, 1, 0.3)),
        new("capture-one-channel", "the receiver `receiver` listens on `channel` (37) only", false,
            (scenario, json) =>
            {
                ReceiverPlan receiver = Receiver(scenario, json);
                receiver.Scan = new ScanPlan((int)json.Whole("channel", 37, 39, 37), 100_000, 100_000, 0);
            }),
        new("capture-follows-one-device", "the receiver `receiver` gives only what `node` sends", false,
            (scenario, json) => Receiver(scenario, json).Follows = Node(scenario, json).Name),
    ];

    private static void LoseRequests(Scenario scenario, ScenarioJson json)
    {
        var (from, until) = Span(scenario, json);
        Node(scenario, json).Habits.RequestsLost.Add(new LossHabit(from, until, json.Number("share", 0, 1, 1)));
    }

    private static void ForgetSteps(ModelPlan model, List<string> done)
    {
        if (!done.Contains("bind"))
            model.Bind.Clear();
        if (!done.Contains("subscribe"))
            model.Subscribe.Clear();
        if (!done.Contains("publish"))
            model.Publish = null;
    }

    private static ReceiverPlan Receiver(Scenario scenario, ScenarioJson json)
    {
        string name = json.Text("receiver");
        return scenario.Receivers.Find(known => known.Name == name)
            ?? throw json.WrongMember("receiver", $"no receiver is named \"{name}\"");
    }
}
