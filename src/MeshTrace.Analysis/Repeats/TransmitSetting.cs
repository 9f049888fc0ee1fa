using MeshTrace.Analysis.Description;

namespace MeshTrace.Analysis.Repeats;

/// <summary>Where a setting is known from.</summary>
public enum SettingOrigin : byte
{
    /// <summary>The exported description: true when it was written.</summary>
    Description,

    /// <summary>A Config Set message heard: asked for, and not known to have arrived.</summary>
    Asked,

    /// <summary>A Config Status message heard: the node said so.</summary>
    Told,
}

/// <summary>How often a PDU is to be transmitted and how far apart (Network Transmit and Relay Retransmit, Mesh Protocol 1.1 §4.2.20, §4.2.21).</summary>
/// <param name="Transmissions">1-8 transmissions, as the description counts; the wire counts the retransmissions, one less.</param>
/// <param name="IntervalMs">10-320 ms, to which each time 0-10 ms are added by chance.</param>
/// <param name="Origin">Where it is known from.</param>
/// <param name="SinceNs">When it was heard; <see cref="long.MinValue"/> for the description.</param>
public readonly record struct TransmitSetting(int Transmissions, int IntervalMs, SettingOrigin Origin, long SinceNs)
{
    /// <summary>Three bits of retransmissions, five bits of steps of 10 ms less one.</summary>
    internal static TransmitSetting FromWire(byte state, SettingOrigin origin, long timeNs) => new((state & 0x07) + 1, ((state >> 3) + 1) * 10, origin, timeNs);

    internal static TransmitSetting? From(DescribedTransmit? described) =>
        described is { } state ? new TransmitSetting(state.Count, state.IntervalMs, SettingOrigin.Description, long.MinValue) : null;

    internal bool SameAs(TransmitSetting other) => Transmissions == other.Transmissions && IntervalMs == other.IntervalMs;
}

/// <summary>State of the relay feature and its retransmissions.</summary>
/// <param name="Relay">Enabled, disabled or not supported.</param>
/// <param name="Retransmit">Transmissions of a relayed PDU, or null where nobody says.</param>
public readonly record struct RelaySetting(FeatureState Relay, TransmitSetting? Retransmit);
