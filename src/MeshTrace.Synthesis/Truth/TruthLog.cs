using MeshTrace.Protocol;
using MeshTrace.Synthesis.Nodes;
using MeshTrace.Synthesis.Nodes.Friendship;
using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Truth;

/// <summary>How one setup of a node went.</summary>
internal sealed class ConfigurationTruth
{
    internal required MeshNode By { get; init; }
    internal required MeshNode Target { get; init; }
    internal required long StartUs { get; init; }
    internal required int Steps { get; init; }
    internal int StepsDone { get; set; }

    /// <summary>Steps that the node refused, each with its status code.</summary>
    internal List<(string Step, byte Code)> Refused { get; } = [];
    internal long? EndUs { get; set; }
    internal string Outcome { get; set; } = "cut-off";
}

/// <summary>Everything that really happened, as it happens.</summary>
internal sealed class TruthLog(bool keepsEvents)
{
    internal List<FloodTruth> Floods { get; } = [];
    internal List<BeaconTruth> Beacons { get; } = [];
    internal List<TransferTruth> Transfers { get; } = [];
    internal List<PressTruth> Presses { get; } = [];
    internal List<ConfigurationTruth> Configurations { get; } = [];
    internal List<LifecycleTruth> Lifecycle { get; } = [];
    internal List<FriendshipTruth> Friendships { get; } = [];
    internal List<ProvisioningTruth> Provisionings { get; } = [];
    internal List<ProxyTruth> ProxyConnections { get; } = [];

    /// <summary>Network PDUs, and advertising events that carried one or a beacon.</summary>
    internal int FloodCount { get; private set; }
    internal long EventCount { get; private set; }

    /// <summary>Keeps a line for an advertising event; null where the truth is to stay short.</summary>
    internal object? Sent(EmissionTruth emission, EventTruth sent)
    {
        EventCount++;
        if (!keepsEvents)
            return null;
        emission.Events.Add(sent);
        return sent;
    }

    internal FloodTruth Flood(uint ivIndex, MeshAddress src, MeshAddress dst, uint seq, bool ctl, byte ttl, string what, int netKeyIndex,
        PressTruth? press,
        TransferTruth? transfer, int? segO)
    {
        var flood = new FloodTruth
        {
            Index = ++FloodCount, IvIndex = ivIndex, Src = src, Dst = dst, Seq = seq, Ctl = ctl, Ttl = ttl, What = what,
            NetKeyIndex = netKeyIndex, Press = press,
            Transfer = transfer, SegO = segO,
        };
        if (keepsEvents)
            Floods.Add(flood);
        return flood;
    }

    /// <summary>Notes a change in the life of the network or of a node.</summary>
    internal void Happened(long nowUs, string what, MeshNode node, params (string Name, long Value)[] values) =>
        Lifecycle.Add(new LifecycleTruth(nowUs, what, node, null, values));

    /// <inheritdoc cref="Happened(long, string, MeshNode, ValueTuple{string, long}[])" />
    internal void Happened(long nowUs, string what, MeshNode node, MeshNode with) => Lifecycle.Add(new LifecycleTruth(nowUs, what, node, with, []));

    internal ProvisioningTruth Provisioning(ProvisionPlan plan, MeshNode by, MeshNode device, long nowUs)
    {
        var provisioning = new ProvisioningTruth(plan, by, device, nowUs);
        Provisionings.Add(provisioning);
        return provisioning;
    }

    internal FriendshipTruth Friendship(FriendshipBond bond, long nowUs)
    {
        var friendship = new FriendshipTruth(bond, nowUs);
        Friendships.Add(friendship);
        return friendship;
    }

    internal BeaconTruth Beacon(string kind, MeshNode by, BeaconContent? content = null)
    {
        var beacon = new BeaconTruth { Kind = kind, By = by, Content = content };
        if (keepsEvents)
            Beacons.Add(beacon);
        return beacon;
    }

    internal TransferTruth Transfer(AccessMessage message, int segments, long nowUs)
    {
        var transfer = new TransferTruth
        {
            Index = Transfers.Count + 1, Src = message.Src, Dst = message.Dst, Seq = message.Seq, Segments = segments, What = message.Name,
            StartUs = nowUs,
        };
        Transfers.Add(transfer);
        return transfer;
    }

    internal ConfigurationTruth Configuration(MeshNode by, MeshNode target, long nowUs, int steps)
    {
        var configuration = new ConfigurationTruth { By = by, Target = target, StartUs = nowUs, Steps = steps };
        Configurations.Add(configuration);
        return configuration;
    }
}
