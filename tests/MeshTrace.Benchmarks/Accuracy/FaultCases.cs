using System.Text.Json.Nodes;
using MeshTrace.Analysis.Completeness;

namespace MeshTrace.Benchmarks.Accuracy;

/// <summary>The cases of all findings that a composed fault stands for.</summary>
internal static partial class FaultCases
{
    private const double FromS = 38, UntilS = 72;
    private const int Group = 0xC001;

    public static IReadOnlyList<FaultCase> All { get; } = [.. Presses(), .. Ways(), .. Addresses(), .. Sequences(), .. Transfers(), .. Captures(), .. Lives(), .. Phones()];

    private static IEnumerable<FaultCase> Presses() =>
    [
        new("press-not-on-air", Needs.None,
            network => [Fault("press-not-on-air", ("node", network.Panel.Name), ("fromS", network.NotedAtS - 0.3), ("untilS", network.NotedAtS + 0.3))],
            network => [network.Panel],
            composed =>
            {
                long at = composed.Truth.StartNs + (long)(composed.Network.NotedAtS * 1e9);
                var floods = composed.Truth.Floods.Where(flood => composed.Network.Panel.Owns(flood.Src) && flood.Events.Count > 0).GroupBy(flood => flood.Src);
                return floods.All(element => element.LastOrDefault(flood => flood.FirstNs < at)?.IsHeard != false
                    && element.FirstOrDefault(flood => flood.FirstNs > at)?.IsHeard != false);
            },
            "the panel's PDUs before and after the noted press were heard"),
        new("press-unanswered", Needs.None,
            network => [Fault("press-unanswered", ("node", network.Lamp.Name), ("fromS", FromS), ("untilS", UntilS))],
            network => [network.Lamp, network.Panel],
            composed => RequestHeard(composed, composed.Network.Lamp) && FaultCase.SilenceTells(composed, composed.Network.Lamp, 3)
                && RunTells(composed, composed.Network.Lamp, press => press.Dst == composed.Network.Lamp.Unicast, UntilS),
            "a request and five PDUs of the lamp were heard, and of the presses to the lamp in its silent time, three at least, all answers would have been missed with a chance of less than 30 %, wherever in the capture so long a silence may lie"),
        new("some-lamps-silent", Needs.GroupAnswers,
            network => [Fault("some-lamps-silent", ("node", Silent(network).Name), ("fromS", FromS))],
            network => [Silent(network)],
            composed => composed.Network.GroupLamps.Count > 1 && RequestHeard(composed, Silent(composed.Network)) && SilentRunTells(composed),
            "a request and five PDUs of the lamp were heard, and of the presses to the group in the silent time, three at least, all answers of the lamp would have been missed with a chance of less than 30 %, wherever in the capture so long a silence may lie, of any of its lamps"),
        new("answer-lost-on-way-back", Needs.None,
            network => [Fault("answer-lost-on-way-back", ("node", network.Lamp.Name), ("fromS", FromS), ("untilS", UntilS))],
            network => [network.Lamp, network.Panel],
            composed => composed.Truth.Presses.Any(press => press.Acknowledged && composed.Truth.Floods.Any(answer => answer.IsHeard && answer.Press == press.Number
                && composed.Network.Lamp.Owns(answer.Src) && composed.Truth.FloodsOf(press).Any(again => again.IsHeard && again.FirstNs > answer.FirstNs + 100_000_000))),
            "an answer and a later copy of the same request were heard"),
        new("ttl-exhausted", Needs.Far | Needs.GroupAnswers,
            network => [Fault("ttl-exhausted", ("node", network.Panel.Name), ("ttl", 2))],
            network => [network.Panel, .. network.GroupLamps],
            composed => composed.Truth.Presses.Any(press => press.Acknowledged && press.Lost.Any(lost => lost.Value == "ttl-too-low"
                && FaultCase.SilenceTells(composed, composed.Network.Owner(lost.Key)!, 3)) && composed.Truth.FloodsOf(press).Any(HeardAtLastHop)),
            "a copy at the last TTL was heard, and three answers of a far lamp would have been"),
        new("sent-once-only", Needs.None, network => [Fault("sent-once-only", ("node", network.Panel.Name))], network => [network.Panel],
            composed => composed.Truth.CountOf(composed.Network.Panel).Heard >= 10, "ten PDUs of the panel were heard"),
        new("repeats-too-close", Needs.GroupAnswers,
            network =>
            [
                Fault("repeats-too-close", ("node", network.Panel.Name)), Fault("some-lamps-silent", ("node", Silent(network).Name), ("fromS", FromS)),
            ],
            network => [network.Panel],
            composed => composed.Network.GroupLamps.Count > 1 && composed.Truth.CountOf(composed.Network.Panel).Heard >= 10 && SilentRunTells(composed),
            "ten PDUs of the panel were heard, and the answers of the silent lamp would have been, as for `some-lamps-silent`"),
        new("answers-collide", Needs.Crowd, network => [Fault("answers-collide", ("node", network.Panel.Name))], network => [network.Panel],
            composed => composed.Truth.Presses.Any(press => press.Acknowledged && press.Expected.Count >= 8 && composed.Truth.FloodsOf(press).Count(flood => flood.IsHeard) > 1),
            "an acknowledged request to the group and its repetition were heard"),
        new("nobody-subscribed", Needs.None,
            network => [.. network.GroupLamps.Select(lamp => Fault("nobody-subscribed", ("node", lamp.Name), ("group", "Lamps")))],
            network => [network.Panel, .. network.GroupLamps],
            composed => composed.Truth.Floods.Any(flood => flood.Dst == Group && flood.IsHeard), "a request to the group was heard"),
        new("transaction-number-reused", Needs.None, network => [Fault("transaction-number-reused", ("node", network.Panel.Name))], network => [network.Panel],
            composed => composed.Truth.Presses.Any(press => composed.Truth.Presses.Any(next => next.Number > press.Number && next.Src == press.Src
                && next.TimeNs - press.TimeNs < 5_800_000_000 && next.Number - press.Number == 3 && composed.Truth.FloodsOf(press).Any(flood => flood.IsHeard)
                && composed.Truth.FloodsOf(next).Any(flood => flood.IsHeard) && (press.Number - 1) / 3 % 2 != (next.Number - 1) / 3 % 2)),
            "two presses with different values within 6 s were heard"),
        new("repeat-counted-as-new", Needs.None, network => [Fault("repeat-counted-as-new", ("node", network.Panel.Name))], network => [network.Panel],
            composed => composed.Truth.Presses.Any(press => !press.Acknowledged && press.Floods.Count == 3 && composed.Truth.FloodsOf(press).All(flood => flood.Events.Count > 0 && flood.Events[0].IsHeard)),
            "the first transmissions of all three messages of an unacknowledged press were heard: only these are even, later ones and relayed copies come up to 150 ms after them"),
        new("doubled-status", Needs.None, network => [Fault("doubled-status", ("node", network.Lamp.Name), ("to", "0002"))], network => [network.Lamp],
            composed => composed.Truth.Presses.Any(press => press.Dst == composed.Network.Lamp.Unicast
                && composed.Truth.Floods.Count(flood => flood.Press == press.Number && composed.Network.Lamp.Owns(flood.Src) && flood.IsHeard) >= 2),
            "both states that followed one press were heard"),
        new("heartbeat-silent", Needs.None, network => [Fault("heartbeat-silent", ("node", network.Beating[0].Name), ("fromS", FromS))],
            network => [network.Beating[0]],
            composed => HeartbeatsMissed(composed, composed.Network.Beating[0]) < 0.01,
            "by the share heard of the node's PDUs, and by how many heartbeats before the silence were heard, thirteen more would have been missed with a chance of less than 5 % each and 1 % together: many nodes send some, and each has its longest silence"),
    ];

    private static IEnumerable<FaultCase> Ways() =>
    [
        new("relay-not-forwarding", Needs.Far | Needs.GroupAnswers, network => [Fault("relay-not-forwarding", ("node", network.Relays[1].Name))],
            network => [network.Relays[1]],
            composed => composed.Network.StableAddresses && composed.Truth.Floods.Count(flood => flood.IsHeard && flood.Ttl >= 2 && flood.Dst > 0x7FFF
                    && flood.Src == composed.Network.Panel.Unicast) >= 26
                && composed.Truth.Floods.Count(flood => flood.IsHeard && flood.What == "Generic OnOff Status" && composed.Network.Relays[1].Owns(flood.Src)) >= 8
                && composed.Truth.CountOf(composed.Network.Relays[1]) is var (heard, sent) && heard > 0.5 * sent,
            "addresses do not change; 26 presses to the group, 8 answers of the relay and half of its PDUs were heard"),
        new("no-relay-on-path", Needs.Far | Needs.GroupAnswers, _ => [Fault("no-relay-on-path")], null,
            composed => composed.Truth.Floods.Count(flood => flood.IsHeard) >= 20 && composed.Truth.Presses.Count(press => press.Acknowledged
                && composed.Truth.FloodsOf(press).Any(flood => flood.IsHeard) && press.Expected.Any(element => !press.IsServedBy(element)
                    && FaultCase.SilenceTells(composed, composed.Network.Owner(element)!, 3))) >= 3,
            "20 PDUs and three requests were heard, and three answers of a lamp that each did not reach would have been"),
        new("relay-crowding", Needs.Crowd, _ => [Fault("relay-crowding", ("transmissions", 3))], null,
            composed => Median(composed, flood => flood.Events.Where(sent => sent.IsHeard && sent.Ttl < flood.Ttl).Select(sent => sent.By).Distinct().Count()) > 6
                && composed.Network.Scenario["nodes"]![0]!["address"]!.GetValue<string>() != "each",
            "more than 6 relays of half of the PDUs were heard, with addresses that last longer than a PDU"),
        new("relayed-again", Needs.Far | Needs.GroupAnswers, network => [Fault("relayed-again", ("node", network.Relays[0].Name), ("cacheSize", 1))],
            network => [network.Relays[0]],
            composed => composed.Network.StableAddresses && composed.Truth.Floods.Count(flood => flood.Events
                .Where(sent => sent.IsHeard && sent.By == composed.Network.Relays[0].Name).Select(sent => sent.Ttl).Distinct().Count() > 1) > 1,
            "addresses do not change, and the relay was heard with two PDUs at two TTLs each"),
        new("channel-crowded", Needs.None,
            network => [Fault("channel-crowded", ("place", Place(network)), ("count", 40), ("intervalMs", 20), ("fromS", FromS), ("untilS", UntilS))], null,
            composed => composed.Truth.Unrelated * 0.3e-3 * (composed.Network.Channels == "three" ? 1 / 3.0 : 1) / (UntilS - FromS) > 0.12,
            "the frames heard took more than 12 % of the time"),
        new("node-falls-behind", Needs.Far | Needs.GroupAnswers,
            network => [Fault("node-falls-behind", ("node", network.Relays[1].Name), ("paceMs", 150), ("room", 6))], network => [network.Relays[1]],
            composed => composed.Network.StableAddresses && RelayDelays(composed, composed.Network.Relays[1]).ToList() is var delays && delays.Count >= 60
                && delays.Count(delay => delay > 350_000_000) > 0.06 * delays.Count,
            "addresses do not change, 60 delays of the relay were heard, and one in fifteen was above 350 ms"),
    ];

    private static IEnumerable<FaultCase> Transfers() =>
    [
        new("transfer-given-up", Needs.None, network => [Fault("transfer-given-up", ("node", network.Lamp.Name), ("fromS", 30), ("untilS", 90))],
            network => [network.Lamp, network.Tablet],
            composed => FaultCase.SilenceTells(composed, composed.Network.Lamp, 1) && composed.Truth.Transfers.Any(transfer => transfer.Outcome == "given-up"
                && transfer.Sent.GroupBy(sent => sent.SegO).Any(segment => segment.Count(sent => composed.Truth.Flood(sent.Flood).IsHeard) >= 3)),
            "three rounds of a segment were heard, and an acknowledgment of the lamp would have been: else it may have stopped the sender"),
        new("acknowledgment-not-arriving", Needs.None,
            network => [Fault("acknowledgment-not-arriving", ("node", network.Lamp.Name), ("fromS", 30), ("untilS", 90))],
            network => [network.Lamp, network.Tablet],
            composed => composed.Truth.Transfers.Any(transfer => transfer.Acks.Any(ack => composed.Truth.Flood(ack.Flood).IsHeard
                && transfer.Sent.Any(sent => (ack.Block >> sent.SegO & 1) != 0 && composed.Truth.Flood(sent.Flood) is { IsHeard: true } again
                    && again.FirstNs > composed.Truth.Flood(ack.Flood).FirstNs + 400_000_000))),
            "an acknowledgment and a later repetition of a segment in it were heard"),
        new("transfer-refused", Needs.None, network => [Fault("transfer-refused", ("node", network.Lamp.Name))], network => [network.Lamp, network.Tablet],
            composed => composed.Truth.Transfers.Any(transfer => HeardSegments(composed, transfer).Count > 0
                && transfer.Acks.Any(ack => ack.Block == 0 && composed.Truth.Flood(ack.Flood).IsHeard)),
            "an acknowledgment of no segment was heard, and a segment of what it refuses"),
        new("reassembly-timed-out", Needs.None, network => [Fault("reassembly-timed-out", ("node", network.Tablet.Name))], network => [network.Tablet, network.Lamp],
            composed => composed.Truth.Transfers.Any(transfer => HeardSegments(composed, transfer) is { Count: > 1 } heard
                && heard.Zip(heard.Skip(1), (a, b) => b - a).Any(gap => gap > 10_000_000_000))
                && FaultCase.SilenceTells(composed, composed.Network.Tablet, 1) && FaultCase.SilenceTells(composed, composed.Network.Lamp, 1),
            "segments on both sides of a pause were heard, and so would have been a segment within one, and an acknowledgment after it"),
        new("transfer-slow", Needs.None, network => [Fault("transfer-slow", ("node", network.Tablet.Name), ("intervalMs", 2500))],
            network => [network.Tablet, network.Lamp],
            composed => composed.Truth.Transfers.Any(transfer => transfer.Outcome == "acknowledged" && HeardSegments(composed, transfer) is { Count: > 1 } heard
                && heard[^1] - heard[0] > 4_500_000_000),
            "segments 4.5 s apart were heard"),
        new("transfer-to-group", Needs.None, network => [Fault("transfer-to-group", ("node", network.Tablet.Name), ("group", "Lamps"))],
            network => [network.Tablet],
            composed => composed.Truth.Transfers.Any(transfer => transfer.Dst == Group && HeardSegments(composed, transfer).Count > 0),
            "a segment to the group was heard"),
    ];

    private static IEnumerable<FaultCase> Captures() =>
    [
        new("capture-too-thin", Needs.None, network => [Fault("capture-too-thin", ("receiver", network.Receiver), ("share", 0.06))], null,
            composed => composed.Network.Nodes.Any(node => composed.Truth.CountOf(node) is var (heard, sent) && heard >= 5 && heard < 0.5 * sent),
            "half of a node's PDUs were missed"),
        new("capture-one-channel", Needs.None, network => [Fault("capture-one-channel", ("receiver", network.Receiver), ("channel", 38))], null,
            composed => composed.Network.Scenario["receivers"]![0]!["linkType"]!.GetValue<int>() is 256 or 272 && composed.Truth.Floods.Sum(flood => flood.Events.Sum(sent => sent.Heard.Length)) >= 210,
            "210 mesh frames were heard, with their channel"),
        new("capture-follows-one-device", Needs.None,
            network => [Fault("capture-follows-one-device", ("receiver", network.Receiver), ("node", network.Relays[0].Name))], null,
            composed => composed.Network.StableAddresses && composed.Truth.Frames >= 220, "addresses do not change, and 220 frames were heard"),
        new("unknown-network", Needs.None, network => [Fault("unknown-network", ("place", Place(network)))], null,
            composed => composed.Truth.Unrelated >= 50, "50 frames without content of the network were heard"),
    ];

    /// <summary>
    /// Chance that the heartbeats of the silent time were sent and missed, at one of two ends of the capture: at the share of the node's PDUs heard, and if those
    /// heard before were strewn over all.
    /// </summary>
    private static double HeartbeatsMissed(Composition composed, DrawnNode node)
    {
        const int Silent = 13;      // (150 s - 38 s) / 8 s, less one
        List<TrueFlood> beats = [.. composed.Truth.Floods.Where(flood => flood.What == "Heartbeat" && node.Owns(flood.Src))];
        (int heard, int sent) = composed.Truth.CountOf(node);
        if (heard == 0 || !beats.Exists(beat => beat.IsHeard))
            return 1;
        double strewn = 1;
        for (int at = 0; at < beats.Count(beat => beat.IsHeard); at++)
            strewn *= (beats.Count - at) / (double)(beats.Count + Silent - at);
        double byNode = Math.Pow(1 - ShareInterval.Of(heard, sent).Low, Silent);
        return 2 * Math.Max(strewn, byNode) >= 0.05 ? 1 : 2 * Math.Sqrt(strewn * byNode);
    }

    /// <summary>A lamp of the group that is not the one addressed by itself, where there is one.</summary>
    private static DrawnNode Silent(DrawnNetwork network) => network.GroupLamps[^1];

    private static bool RequestHeard(Composition composed, DrawnNode lamp) => composed.Truth.Presses.Any(press => press.Acknowledged
        && press.Expected.Any(element => lamp.Owns(element) && !press.IsServedBy(element)) && composed.Truth.FloodsOf(press).Any(flood => flood.IsHeard));

    private static bool SilentRunTells(Composition composed) => FaultCase.SilenceTells(composed, Silent(composed.Network), 3)
        && RunTells(composed, Silent(composed.Network), press => press.Dst == Group, double.MaxValue, composed.Network.GroupLamps.Count);

    /// <summary>
    /// The lamp's answers to the presses of its silent time would not have been missed all, nor so many in a row at another place of the capture, nor those of another
    /// lamp: the time of the fault is not known beforehand.
    /// </summary>
    private static bool RunTells(Composition composed, DrawnNode lamp, Func<TruePress, bool> to, double untilS, int lamps = 1)
    {
        var (heard, sent) = composed.Truth.CountOf(lamp);
        List<double> asked = [.. composed.Truth.Presses.Where(press => press.Acknowledged && to(press)).Select(press => (press.TimeNs - composed.Truth.StartNs) / 1e9)];
        int run = asked.Count(at => at >= FromS && at <= untilS);
        return run > 0 && heard >= 5 && lamps * Math.Pow(1 - ShareInterval.Of(heard, sent).Low, run) * (asked.Count - run + 1) < FaultCase.MostChance;
    }

    private static bool HeardAtLastHop(TrueFlood flood) => flood.Events.Any(sent => sent.Ttl <= 1 && sent.IsHeard);

    private static List<long> HeardSegments(Composition composed, TrueTransfer transfer) =>
        [.. transfer.Sent.Select(sent => composed.Truth.Flood(sent.Flood)).Where(flood => flood.IsHeard).Select(flood => flood.FirstNs).Order()];

    /// <summary>How late a relay sent what it relayed, in ns, where both copies were heard.</summary>
    private static IEnumerable<long> RelayDelays(Composition composed, DrawnNode relay)
    {
        foreach (TrueFlood flood in composed.Truth.Floods)
        {
            TrueEvent? own = flood.Events.FirstOrDefault(sent => sent.By == relay.Name && sent.Ttl < flood.Ttl && sent.IsHeard);
            TrueEvent? before = own is null ? null : flood.Events.FirstOrDefault(sent => sent.Ttl == own.Ttl + 1 && sent.IsHeard);
            if (own is not null && before is not null)
                yield return own.TimeNs - before.TimeNs;
        }
    }

    private static double Median(Composition composed, Func<TrueFlood, int> count)
    {
        List<int> counts = [.. composed.Truth.Floods.Where(flood => flood.IsHeard && flood.Ttl >= 2).Select(count).Order()];
        return counts.Count == 0 ? 0 : counts[counts.Count / 2];
    }

    private static JsonArray Place(DrawnNetwork network) => [network.ReceiverPlace.X, network.ReceiverPlace.Y + 2];

    internal static JsonObject Fault(string name, params ReadOnlySpan<(string Member, JsonNode Value)> members)
    {
        var fault = new JsonObject { ["fault"] = name };
        foreach (var (member, value) in members)
            fault[member] = value;
        return fault;
    }
}
