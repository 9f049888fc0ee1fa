using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access;

namespace MeshTrace.Analysis.Transfers;

/// <summary>SAR Transmitter state of a node (Mesh Protocol 1.1 §4.2.48), in ms and transmissions.</summary>
public sealed record SarTransmitter(long SinceNs, int SegmentIntervalMs, int UnicastTransmissions, int TransmissionsWithoutProgress,
    int RetransmissionMs, int RetransmissionIncrementMs, int MulticastTransmissions, int MulticastRetransmissionMs);

/// <summary>SAR Receiver state of a node (Mesh Protocol 1.1 §4.2.49).</summary>
/// <param name="SinceNs">When it was heard.</param>
/// <param name="SegmentsThreshold">An acknowledgment is repeated only if SegN is above it.</param>
/// <param name="DelayIncrement">Acknowledgment delay in reception intervals, at most.</param>
/// <param name="AcknowledgmentTransmissions">Of one acknowledgment.</param>
/// <param name="DiscardMs">Silence after which an unfinished message is dropped.</param>
/// <param name="ReceptionIntervalMs">Expected distance of segments.</param>
public sealed record SarReceiver(long SinceNs, int SegmentsThreshold, double DelayIncrement, int AcknowledgmentTransmissions, int DiscardMs, int ReceptionIntervalMs);

/// <summary>
/// The timers that hold for a transfer. Where a SAR state of the node was heard, those of Mesh Protocol 1.1 §3.5.3.3 and §3.5.3.4; else the fixed rules of
/// Mesh Profile 1.0 §3.5.3.3 and §3.5.3.4 (from memory), which are least values.
/// </summary>
public sealed class SarRules
{
    private const uint TransmitterSet = 0x806D, TransmitterStatus = 0x806E, ReceiverSet = 0x8070, ReceiverStatus = 0x8071;

    private readonly Dictionary<ushort, List<SarTransmitter>> _transmitters = [];
    private readonly Dictionary<ushort, List<SarReceiver>> _receivers = [];

    internal SarRules(CaptureHistory history, NodeDirectory nodes)
    {
        for (int row = 0; row < history.Messages.Count; row++)
        {
            ref MessageRow message = ref history.Messages[row];
            if (!message.Decrypted || message.Key != MessageKey.Device)
                continue;
            switch (message.Opcode.Value)
            {
                case TransmitterSet or TransmitterStatus when ReadTransmitter(history.PayloadOf(row), message.TimeNs) is { } transmitter:
                    Add(_transmitters, nodes.NodeOf(message.Opcode.Value == TransmitterSet ? message.Dst : message.Src), transmitter);
                    break;
                case ReceiverSet or ReceiverStatus when ReadReceiver(history.PayloadOf(row), message.TimeNs) is { } receiver:
                    Add(_receivers, nodes.NodeOf(message.Opcode.Value == ReceiverSet ? message.Dst : message.Src), receiver);
                    break;
            }
        }
    }

    /// <summary>SAR Transmitter state of a node at a time, if one was heard.</summary>
    public SarTransmitter? TransmitterAt(MeshAddress node, long timeNs) => _transmitters.GetValueOrDefault(node.Value)?.FindLast(state => state.SinceNs <= timeNs);

    /// <summary>SAR Receiver state of a node at a time, if one was heard.</summary>
    public SarReceiver? ReceiverAt(MeshAddress node, long timeNs) => _receivers.GetValueOrDefault(node.Value)?.FindLast(state => state.SinceNs <= timeNs);

    /// <summary>Wait of the sender from the last segment of a round to the next round, in ms.</summary>
    /// <param name="sender">Primary address.</param>
    /// <param name="timeNs">When.</param>
    /// <param name="ttl">TTL of the segments as sent.</param>
    /// <param name="unicast">False for a group or virtual address.</param>
    public double RetransmissionMs(MeshAddress sender, long timeNs, int ttl, bool unicast) => TransmitterAt(sender, timeNs) is { } state
        ? unicast ? state.RetransmissionMs + (state.RetransmissionIncrementMs * Math.Max(ttl - 1, 0)) : state.MulticastRetransmissionMs
        : 200 + (50 * ttl);

    /// <summary>Wait of the receiver from a segment to its acknowledgment, in ms.</summary>
    /// <param name="receiver">Primary address.</param>
    /// <param name="timeNs">When.</param>
    /// <param name="ttl">TTL of the segments as received.</param>
    /// <param name="segN">Number of the last segment.</param>
    public double AcknowledgmentMs(MeshAddress receiver, long timeNs, int ttl, int segN) => ReceiverAt(receiver, timeNs) is { } state
        ? Math.Min(segN + 0.5, state.DelayIncrement) * state.ReceptionIntervalMs
        : 150 + (50 * ttl);

    /// <summary>Times that each segment is sent: at least 2 by the fixed rules; with a SAR state, as it says.</summary>
    public int TransmissionsOf(MeshAddress sender, long timeNs, bool unicast) => TransmitterAt(sender, timeNs) is { } state
        ? unicast ? state.UnicastTransmissions : state.MulticastTransmissions
        : 2;

    /// <summary>Silence after which the receiver drops an unfinished message, in ms.</summary>
    public double DiscardMs(MeshAddress receiver, long timeNs) => ReceiverAt(receiver, timeNs)?.DiscardMs ?? 10_000;

    private static SarTransmitter? ReadTransmitter(ReadOnlySpan<byte> payload, long timeNs) =>
        Read(payload, "SAR_Segment_Interval_Step") is { } interval && Read(payload, "SAR_Unicast_Retransmissions_Count") is { } count
        && Read(payload, "SAR_Unicast_Retransmissions_Without_Progress_Count") is { } withoutProgress && Read(payload, "SAR_Unicast_Retransmissions_Interval_Step") is { } step
        && Read(payload, "SAR_Unicast_Retransmissions_Interval_Increment") is { } increment && Read(payload, "SAR_Multicast_Retransmissions_Count") is { } multicast
        && Read(payload, "SAR_Multicast_Retransmissions_Interval_Step") is { } multicastStep
            ? new SarTransmitter(timeNs, (interval + 1) * 10, count + 1, withoutProgress + 1, (step + 1) * 25, (increment + 1) * 25, multicast + 1, (multicastStep + 1) * 25)
            : null;

    private static SarReceiver? ReadReceiver(ReadOnlySpan<byte> payload, long timeNs) =>
        Read(payload, "SAR_Segments_Threshold") is { } threshold && Read(payload, "SAR_Acknowledgment_Delay_Increment") is { } increment
        && Read(payload, "SAR_Acknowledgment_Retransmissions_Count") is { } count && Read(payload, "SAR_Discard_Timeout") is { } discard
        && Read(payload, "SAR_Receiver_Segment_Interval_Step") is { } interval
            ? new SarReceiver(timeNs, threshold, increment + 1.5, count + 1, (discard + 1) * 5_000, (interval + 1) * 10)
            : null;

    private static int? Read(ReadOnlySpan<byte> payload, string field) => AccessReader.TryReadNumber(payload, field, out long value) ? (int)value : null;

    private static void Add<T>(Dictionary<ushort, List<T>> table, MeshAddress node, T state)
    {
        if (!table.TryGetValue(node.Value, out List<T>? states))
            table[node.Value] = states = [];
        states.Add(state);
    }
}
