using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;
using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Scenarios;

/// <summary>How much of the truth is written.</summary>
public enum TruthDetail : byte
{
    /// <summary>Presses, transfers, and every flood and beacon with each transmission.</summary>
    Full,

    /// <summary>Presses, transfers and totals; for large captures.</summary>
    Presses,
}

/// <summary>
/// A scenario as read from its file: building, network, nodes, receivers, what happens when. One file is read into three of these: as it
/// was meant (no fault), as the description has it (faults the description knows of), and as it really is (all faults). docs/scenarios.md
/// has the format.
/// </summary>
internal sealed class Scenario
{
    internal required string Name { get; init; }
    internal string? Says { get; init; }
    internal required ulong Seed { get; init; }

    /// <summary>Nanoseconds since 1970-01-01 UTC at time 0 of the scenario.</summary>
    internal required long StartNs { get; init; }
    internal required long DurationUs { get; init; }
    internal required TruthDetail Truth { get; init; }
    internal required BuildingPlan Building { get; init; }
    internal required NetworkPlan Network { get; init; }
    internal List<NodePlan> Nodes { get; } = [];
    internal List<LinkPlan> Links { get; } = [];
    internal List<ReceiverPlan> Receivers { get; } = [];
    internal List<NoisePlan> Noise { get; } = [];
    internal List<InterferencePlan> Interference { get; } = [];
    internal List<IncidentPlan> Schedule { get; } = [];
    internal List<FaultPlan> Faults { get; } = [];
    internal DescriptionPlan Description { get; init; } = new();

    /// <summary>True for a device that a provisioner brings into the network; not if it is one that was in it and is reset before.</summary>
    internal bool JoinsLater(string name) => Schedule.OfType<ProvisionPlan>().Where(plan => plan.Node == name).Select(plan => (long?)plan.AtUs).Min() is { } atUs
        && !Schedule.OfType<ConfigurePlan>().Any(plan => plan.Node == name && plan.AtUs < atUs && plan.Steps.Contains(MeshTrace.Synthesis.Nodes.ConfigurationSteps.ResetName));

    internal NodePlan? NodeNamed(string name) => Nodes.Find(node => node.Name == name);
}

internal sealed record WallPlan(Place From, Place To, double LossDb);

internal sealed class BuildingPlan
{
    internal double Exponent { get; init; } = 2.4;
    internal double FadingDb { get; init; } = 3;
    internal double ShadowDb { get; init; } = 2;
    internal List<WallPlan> Walls { get; } = [];
}

internal sealed record NetKeyPlan(int Index, string Name, byte[] Key);

internal sealed record AppKeyPlan(int Index, string Name, int NetKey, byte[] Key);

internal sealed record GroupPlan(string Name, MeshAddress Address, byte[]? Label);

internal sealed class NetworkPlan
{
    internal required string Name { get; init; }
    internal required Guid MeshUuid { get; init; }
    internal uint IvIndex { get; set; }
    internal List<NetKeyPlan> NetKeys { get; } = [];
    internal List<AppKeyPlan> AppKeys { get; } = [];
    internal List<GroupPlan> Groups { get; } = [];
    internal List<ExclusionPlan> Exclusions { get; } = [];

    /// <summary>The label UUID of a virtual address, or null.</summary>
    internal byte[]? LabelOf(MeshAddress address) => Groups.Find(group => group.Address == address)?.Label;
}

/// <summary>A pair of stations whose strength or loss is told instead of calculated.</summary>
internal sealed record LinkPlan(string From, string To, bool BothWays, int? RssiDbm, double? LossShare);

internal sealed class ReceiverPlan
{
    internal required string Name { get; init; }
    internal required Place Place { get; init; }
    internal required LinkType LinkType { get; init; }
    internal required ScanPlan Scan { get; set; }
    internal int SensitivityDbm { get; init; } = -97;

    /// <summary>Share of the otherwise good packets that it gives.</summary>
    internal double HeardShare { get; set; } = 1;

    /// <summary>It gives only the packets of this node; null: those of all.</summary>
    internal string? Follows { get; set; }

    /// <summary>Packets with a wrong CRC are given too.</summary>
    internal bool KeepsDamaged { get; init; }
    internal long ClockOffsetUs { get; init; }
    internal int ClockDriftPpm { get; init; }
    internal List<(long FromUs, long UntilUs)> Deaf { get; } = [];
}

internal enum NoiseKind : byte
{
    Phone,
    Tag,
    Network,
}

/// <summary>Advertisers that have nothing to do with the network.</summary>
internal sealed class NoisePlan
{
    internal required NoiseKind Kind { get; init; }
    internal required Place Place { get; init; }
    internal int Count { get; init; } = 1;
    internal long IntervalUs { get; init; } = 1_000_000;
    internal long FromUs { get; init; }
    internal long UntilUs { get; init; } = long.MaxValue;

    /// <summary>How long one of them is there; 0 = all the time. Each comes at a random moment.</summary>
    internal long StayUs { get; init; }
}

/// <summary>Energy that disturbs: bursts at one place, on some channels.</summary>
internal sealed class InterferencePlan
{
    internal required string Name { get; init; }
    internal required Place Place { get; init; }
    internal required long FromUs { get; init; }
    internal required long UntilUs { get; init; }
    internal int PowerDbm { get; init; } = 15;

    /// <summary>Share of the time that it transmits.</summary>
    internal double Duty { get; init; } = 0.9;
    internal int[] Channels { get; init; } = [37, 38, 39];
}

internal sealed record FaultPlan(string Name, bool Described, ScenarioJson Arguments);

/// <summary>What the written description says otherwise than the scenario.</summary>
internal sealed class DescriptionPlan
{
    /// <summary>Timestamp in the file; null = the scenario's start.</summary>
    internal DateTimeOffset? Timestamp { get; init; }
    internal bool Partial { get; init; }

    /// <summary>Names of nodes that it does not know.</summary>
    internal List<string> OmitNodes { get; } = [];

    /// <summary>Device keys are left out.</summary>
    internal bool OmitDeviceKeys { get; init; }

    /// <summary>AppKey indexes that it does not know.</summary>
    internal List<long> OmitAppKeys { get; } = [];
}
