using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Description;

/// <summary>State of a feature (Mesh Protocol 1.1 §4.2, the Relay, GATT Proxy, Friend and Low Power states: 0 disabled, 1 enabled, 2 not supported).</summary>
public enum FeatureState : byte
{
    Disabled = 0,
    Enabled = 1,
    NotSupported = 2,

    /// <summary>The description does not say.</summary>
    Unknown = 0xFF,
}

/// <summary>The four features of a node.</summary>
public readonly record struct DescribedFeatures(FeatureState Relay, FeatureState Proxy, FeatureState Friend, FeatureState LowPower)
{
    public static readonly DescribedFeatures Unknown = new(FeatureState.Unknown, FeatureState.Unknown, FeatureState.Unknown, FeatureState.Unknown);
}

/// <summary>Network Transmit or Relay Retransmit as the description writes it.</summary>
/// <param name="Count">Transmissions of one Network PDU, 1-8: one more than the number in the Config message.</param>
/// <param name="IntervalMs">10-320 ms between them.</param>
public readonly record struct DescribedTransmit(int Count, int IntervalMs);

/// <summary>Heartbeat Publication state.</summary>
/// <param name="Destination">Unassigned: heartbeats are not published.</param>
/// <param name="PeriodSeconds">0, a power of two, or 65535.</param>
/// <param name="Ttl">0-127.</param>
/// <param name="NetKeyIndex">0-4095.</param>
/// <param name="OnChangeOf">Features whose change triggers a heartbeat, as written: <c>relay</c>, <c>proxy</c>, <c>friend</c>, <c>lowPower</c>.</param>
public sealed record DescribedHeartbeatPublication(
    DescribedAddress Destination, int? PeriodSeconds, int? Ttl, int? NetKeyIndex, IReadOnlyList<string> OnChangeOf);

/// <summary>Heartbeat Subscription state.</summary>
/// <param name="Source">Unassigned: heartbeats are not processed.</param>
/// <param name="Destination">The node's own unicast address or a group address.</param>
public sealed record DescribedHeartbeatSubscription(MeshAddress Source, MeshAddress Destination);
