using MeshTrace.Protocol;

namespace MeshTrace.Synthesis.Scenarios;

/// <summary>Something that the scenario makes happen at a time.</summary>
internal abstract class IncidentPlan
{
    /// <summary>µs after the scenario's start.</summary>
    internal required long AtUs { get; set; }
    internal required string Node { get; init; }
}

/// <summary>Somebody presses a button.</summary>
internal sealed class PressPlan : IncidentPlan
{
    internal int Element { get; init; }

    /// <summary>"on", "off", "level N", "level by N", "lightness N", "scene N".</summary>
    internal required string Asks { get; init; }

    /// <summary>Null: where the client model publishes to.</summary>
    internal MeshAddress? To { get; init; }
    internal bool Acknowledged { get; set; }
    internal int? Ttl { get; init; }
    internal int? AppKey { get; init; }
    internal byte? Tid { get; init; }

    /// <summary>Times that an acknowledged request is sent in all while no answer comes.</summary>
    internal int Tries { get; init; } = 3;
    internal long RetryUs { get; init; } = 1_000_000;
    internal int? TransitionMs { get; init; }
}

/// <summary>A configuration client sets up a node: each step is a Config message and its Status.</summary>
internal sealed class ConfigurePlan : IncidentPlan
{
    /// <summary>The node that holds the Configuration Client.</summary>
    internal required string By { get; init; }

    /// <summary>Empty: composition, app keys, bindings, subscriptions, publications, default TTL, network transmit and relay of the node's
    /// plan.</summary>
    internal List<string> Steps { get; } = [];
}

/// <summary>A node begins an IV update.</summary>
internal sealed class IvUpdatePlan : IncidentPlan
{
    /// <summary>Time in progress; null: it does not end.</summary>
    internal long? LastsUs { get; set; }
}

/// <summary>A key refresh, led by the node (a Configuration Client).</summary>
internal sealed class KeyRefreshPlan : IncidentPlan
{
    internal required int NetKey { get; init; }
    internal required byte[] NewNetKey { get; init; }

    /// <summary>The AppKeys bound to the NetKey with their new octets.</summary>
    internal List<AppKeyPlan> NewAppKeys { get; } = [];

    /// <summary>Nodes that get the new keys, one after the other.</summary>
    internal List<string> Targets { get; } = [];

    /// <summary>Nobody is told of phase 2 and 3 but by the beacon.</summary>
    internal bool ByBeacon { get; init; }
    internal long Phase2AfterUs { get; init; }
    internal long Phase3AfterUs { get; init; }
}

/// <summary>A long message, sent in segments.</summary>
internal sealed class TransferPlan : IncidentPlan
{
    internal required MeshAddress To { get; set; }

    /// <summary>Octets of the access payload, opcode included: up to 380 (Mesh Protocol 1.1 §3.5.2, §3.6.2).</summary>
    internal required int Octets { get; init; }
    internal int AppKey { get; init; }
    internal int Element { get; init; }
    internal int? Ttl { get; init; }
    internal bool LongMic { get; init; }
}

/// <summary>A node loses its sequence number, as after new firmware: it goes on from another one.</summary>
internal sealed class SequencePlan : IncidentPlan
{
    internal required uint Sequence { get; init; }

    /// <summary>True: it goes forward by so many, as a node that stores its number ahead in blocks does after a restart.</summary>
    internal bool IsForward { get; init; }
}
