using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Repeats;

/// <summary>
/// How the nodes repeat on the radio, as heard, beside what they are set to. Heard counts begin anew when a Config message changes the setting, so both
/// speak of the same time.
/// </summary>
public sealed class NodeRepeats
{
    private readonly Dictionary<ushort, RepeatCount> _own, _relayed;

    internal NodeRepeats(RadioSettings settings, Dictionary<ushort, RepeatCount> own, Dictionary<ushort, RepeatCount> relayed) =>
        (Settings, _own, _relayed) = (settings, own, relayed);

    /// <summary>What the nodes are set to.</summary>
    public RadioSettings Settings { get; }

    /// <summary>Network Transmit as heard: PDUs that the node originated; null where none was heard from itself.</summary>
    public RepeatCount? NetworkTransmitOf(MeshAddress node) => _own.GetValueOrDefault(node.Value);

    /// <summary>Relay Retransmit as heard: PDUs of others that were attributed to the node; null where none was.</summary>
    public RepeatCount? RelayRetransmitOf(MeshAddress node) => _relayed.GetValueOrDefault(node.Value);

    /// <summary>Transmissions of each PDU that the node originates: as set at a time, else as heard; null where neither tells.</summary>
    public int? TransmissionsOf(MeshAddress node, long timeNs = long.MaxValue) =>
        Settings.NetworkTransmitAt(node, timeNs)?.Transmissions ?? (NetworkTransmitOf(node) is { } heard ? heard.Transmissions : null);
}
