using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Presses;

namespace MeshTrace.Benchmarks.Accuracy;

/// <summary>Does the truth contradict a finding? Judged by what really happened on the air and at the nodes, not by what the receiver heard.</summary>
internal sealed class TruthJudge(Composition composed)
{
    private const long MsNs = 1_000_000;

    /// <summary>Faults that make other findings true as well.</summary>
    private static readonly Dictionary<string, string[]> Brings = new()
    {
        ["address-claimed-twice"] = ["sequence-went-backwards", "sequence-jumped"],
        ["config-refused"] = ["setup-unfinished", "appkey-not-bound"],
        ["setup-unfinished"] = ["appkey-not-bound", "config-refused"],
        ["nobody-subscribed"] = [],
        ["sequence-went-backwards"] = ["sequence-jumped"],
        ["address-reused-too-soon"] = ["sequence-went-backwards"],
        ["capture-follows-one-device"] = ["capture-too-thin"],
        ["appkey-of-other-subnet"] = ["appkey-not-bound"],
        ["model-not-on-element"] = ["nobody-subscribed"],
        ["key-refresh-stuck"] = ["config-refused"],
        ["provisioning-repeats"] = ["provisioning-failed"],
        ["provisioning-failed"] = ["still-unprovisioned", "setup-unfinished", "provisioning-repeats"],
    };

    private TruthFile Truth => composed.Truth;

    /// <summary>Why the finding is wrong, or null where the truth does not contradict it.</summary>
    public string? Contradicts(Finding finding)
    {
        DrawnNode? node = finding.Node is { } address ? composed.Network.Owner(address.Value) : null;
        if (finding.Node is not null && node is null)
            return "no such node";
        return finding.Id switch
        {
            "press-not-on-air" => If(!Truth.Presses.Any(press => press.NotSent is not null && IsOf(press.Node, node)), "every press of the node was sent"),
            "press-unanswered" or "some-lamps-silent" => If(Served(finding, node), "everybody who was asked answered or acted"),
            "answer-lost-on-way-back" => If(!Pressed(finding).Any(RepeatedAfterAnswer), "no request was repeated after an answer"),
            "ttl-exhausted" => If(!Pressed(finding).Any(press => press.Lost.Values.Contains("ttl-too-low")) && !Has("ttl-exhausted"), "no press was lost for its TTL"),
            "relay-not-forwarding" => If(node is not null && Truth.Floods.Any(flood => RelayedBy(flood, node)), "the node relayed"),
            "no-relay-on-path" => If(Truth.Floods.Any(flood => flood.Events.Any(sent => sent.Ttl < flood.Ttl)), "there are relays at work"),
            "relay-crowding" => If(!Truth.Floods.Any(IsCrowded), "at most 5 relays sent a PDU on, within 300 ms"),
            "relayed-again" => If(!Truth.Floods.Any(flood => node is null || SentAgain(flood, node)), "the node sent nothing again"),
            "sent-once-only" => If(node is null ? !Has("sent-once-only") : SendsTwice(node), "the node sends each PDU several times"),
            "repeats-too-close" => If(!TooClose(node), "the node repeats more than 20 ms apart, or nothing was lost"),
            "channel-crowded" => If(!Has("channel-crowded") && !Has("relay-crowding") && BusiestShare() < 0.08, "less than 8 % of any 5 s was on the air"),
            "answers-collide" => If(!Truth.Presses.Any(press => press.Acknowledged && press.Expected.Count >= 8 && IsOf(press.Node, node)), "no request asked 8 elements"),
            "node-falls-behind" => If(node is not null && LateShare(node) < 0.05 && !Accused("node-falls-behind", node), "the node relays in time"),
            "transfer-given-up" => If(!Transfers(node).Any(transfer => transfer.Outcome is "given-up" or "cut-off"), "no transfer of the node was given up"),
            "acknowledgment-not-arriving" => If(!Transfers(node).Any(RepeatedAfterAck), "no segment was sent again after its acknowledgment"),
            "transfer-refused" => If(!Transfers(node).Any(transfer => transfer.Acks.Any(ack => ack.Block == 0)), "nobody refused"),
            "reassembly-timed-out" => If(!Transfers(node).Any(transfer => LongestGapNs(transfer) > 9_500 * MsNs), "no pause of 10 s"),
            "transfer-slow" => If(!Transfers(node).Any(transfer => transfer.EndNs - transfer.TimeNs > 3 * ((transfer.Segments * 60) + 350) * MsNs), "no slow transfer"),
            "transfer-to-group" => If(!Truth.Transfers.Any(transfer => transfer.Dst > 0x7FFF), "no segmented message to a group"),
            "heartbeat-silent" => If(!Has("heartbeat-silent") || !Accused("heartbeat-silent", node), "the heartbeats went on"),
            "friend-lost" => If(Truth.FriendsLost.Count == 0 && !Explained(finding.Id, node), "no Friend was given up"),
            "capture-too-thin" => If(Shares(node).All(share => share > 0.9), "more than 90 % of the PDUs were heard"),
            // What a friendship sends opens with no key where its Friend Request or Offer was not heard: the remark is true.
            // So is it of a new NetKey, where the message that hands it out was missed.
            "unknown-network" => If(!Explained(finding.Id, node) && composed.Network.Battery is null && !HasKeyRefresh, "there is no other network"),
            "capture-one-channel" => If(composed.Network.Channels is "hop" or "three" && !Has("capture-one-channel"), "the receiver takes all channels"),
            _ => If(!Explained(finding.Id, node), "nothing in the network is so"),
        };
    }

    private static string? If(bool wrong, string why) => wrong ? why : null;

    private static bool IsOf(string name, DrawnNode? node) => node is null || node.Name == name;

    private bool HasKeyRefresh => composed.Network.Scenario["schedule"]!.AsArray().Any(item => item!["keyRefresh"] is not null);

    private bool Has(string fault) => composed.Faults.Contains(fault);

    /// <summary>A fault of that name, or one that brings it along, is in the network and concerns the node.</summary>
    private bool Explained(string id, DrawnNode? node) => composed.Faults.Any(fault =>
        (fault == id || (Brings.TryGetValue(fault, out string[]? others) && others.Contains(id))) && Accused(fault, node));

    private bool Accused(string fault, DrawnNode? node) =>
        node is null || FaultCases.All.FirstOrDefault(one => one.Id == fault)?.Names?.Invoke(composed.Network).Contains(node) != false;

    /// <summary>The presses that a finding speaks of: those of its rows, else all of its node.</summary>
    private List<TruePress> Pressed(Finding finding)
    {
        var presses = new List<TruePress>();
        foreach (int row in finding.Presses)
        {
            Press heard = composed.History.Presses[row];
            TruePress? nearest = Truth.Presses.Where(press => press.Src == heard.Src.Value && press.Floods.Count > 0)
                .MinBy(press => Math.Abs(heard.TimeNs - Truth.Flood(press.Floods[0]).FirstNs));
            if (nearest is not null)
                presses.Add(nearest);
        }
        return finding.Presses.Count > 0 ? presses : [.. Truth.Presses];
    }

    private bool Served(Finding finding, DrawnNode? node) => Pressed(finding).All(press =>
        press.NotSent is null && press.Expected.Union(press.Meant).Where(element => node is null || !press.Expected.Any(node.Owns) || node.Owns(element)).All(press.IsServedBy));

    private bool RepeatedAfterAnswer(TruePress press) =>
        press.Answers.Any(answer => Truth.FloodsOf(press).Any(request => request.FirstNs > answer.SentNs));

    private static bool RelayedBy(TrueFlood flood, DrawnNode node) => !node.Owns(flood.Src) && flood.Events.Any(sent => sent.By == node.Name);

    private static bool IsCrowded(TrueFlood flood) => flood.Events.Count > 40
        || flood.Events.Where(sent => sent.Ttl < flood.Ttl).Select(sent => sent.By).Distinct().Count() > 5 || flood.Events[^1].TimeNs - flood.Events[0].TimeNs > 290 * MsNs;

    private static bool SentAgain(TrueFlood flood, DrawnNode node)
    {
        List<TrueEvent> own = [.. flood.Events.Where(sent => sent.By == node.Name)];
        return own.Select(sent => sent.Ttl).Distinct().Count() > 1 || own.Zip(own.Skip(1), (a, b) => b.TimeNs - a.TimeNs).Any(gap => gap > 200 * MsNs);
    }

    /// <summary>Any PDU of the node left it twice: a procedure may send once what its node is set to repeat.</summary>
    private bool SendsTwice(DrawnNode node) => Truth.Floods.Any(flood => node.Owns(flood.Src) && flood.Events.Count(sent => sent.By == node.Name) > 1);

    private bool TooClose(DrawnNode? node) => Truth.Presses.Any(press => press.Lost.Count > 0) && (node is null || Has("repeats-too-close")
        || composed.Network.Scenario["nodes"]!.AsArray().Any(item => item!["name"]!.GetValue<string>() == node.Name
            && item["networkTransmit"]!["intervalMs"]!.GetValue<int>() <= 20));

    /// <summary>Share of a channel's time that the network's packets took in its busiest 5 s.</summary>
    private double BusiestShare() => Truth.Floods.SelectMany(flood => flood.Events).GroupBy(sent => (sent.TimeNs - Truth.StartNs) / (5000 * MsNs))
        .Select(window => window.Count() * 0.33e-3 / 5).DefaultIfEmpty(0).Max();

    private double LateShare(DrawnNode node)
    {
        int all = 0, late = 0;
        foreach (TrueFlood flood in Truth.Floods.Where(flood => RelayedBy(flood, node)))
        {
            TrueEvent own = flood.Events.First(sent => sent.By == node.Name);
            if (flood.Events.FirstOrDefault(sent => sent.Ttl == own.Ttl + 1) is not { } before)
                continue;
            all++;
            late += own.TimeNs - before.TimeNs > 150 * MsNs ? 1 : 0;
        }
        return all == 0 ? 0 : late / (double)all;
    }

    private IEnumerable<TrueTransfer> Transfers(DrawnNode? node) =>
        Truth.Transfers.Where(transfer => node is null || node.Owns(transfer.Src) || node.Owns(transfer.Dst));

    private bool RepeatedAfterAck(TrueTransfer transfer) => transfer.Acks.Any(ack =>
        transfer.Sent.Any(sent => (ack.Block >> sent.SegO & 1) != 0 && Truth.Flood(sent.Flood).FirstNs > Truth.Flood(ack.Flood).FirstNs + (100 * MsNs)));

    private long LongestGapNs(TrueTransfer transfer)
    {
        List<long> times = [.. transfer.Sent.Select(sent => Truth.Flood(sent.Flood).FirstNs).Where(time => time > 0)];
        return times.Zip(times.Skip(1), (a, b) => b - a).DefaultIfEmpty(0).Max();
    }

    private IEnumerable<double> Shares(DrawnNode? node) => composed.Network.Nodes.Where(one => node is null || one == node)
        .Select(Truth.CountOf).Where(count => count.Sent > 0).Select(count => count.Heard / (double)count.Sent);
}
