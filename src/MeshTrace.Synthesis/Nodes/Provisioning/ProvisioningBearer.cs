using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Provisioning;
using MeshTrace.Synthesis.Radio;
using MeshTrace.Synthesis.Truth;

namespace MeshTrace.Synthesis.Nodes.Provisioning;

/// <summary>
/// One end of a PB-ADV link (Mesh Protocol 1.1 §5.2.1, §5.3.3): sends one transaction at a time, all its segments again until it is
/// acknowledged, and acknowledges what it receives.
/// </summary>
internal sealed class ProvisioningBearer(MeshNode node, MeshWorld world, uint linkId, bool isDevice, ProvisioningTruth truth, Randomness random)
{
    /// <summary>From the last segment to the next transmission of a transaction; common practice, no source.</summary>
    private const long RepeatUs = 600_000;

    /// <summary>A transaction that is not acknowledged in this time fails (§5.3.3).</summary>
    private const long TransactionUs = 30_000_000;

    private readonly Queue<byte[]> _waiting = new();
    private readonly HashSet<byte> _received = [];
    private readonly Dictionary<byte, HashSet<int>> _segments = [];
    private byte _number = isDevice ? PbAdvPdu.FirstTransactionNumberOfDevice : (byte)0;
    private byte[]? _sending;
    private long _giveUpUs;
    private int _rounds;
    private bool _closed;

    internal uint LinkId { get; } = linkId;

    /// <summary>A whole provisioning PDU has come.</summary>
    internal Action<byte[]>? Received { get; set; }

    /// <summary>A transaction was not acknowledged.</summary>
    internal Action? Unacknowledged { get; set; }

    internal void Close() => _closed = true;

    internal void Send(byte[] pdu)
    {
        _waiting.Enqueue(pdu);
        if (_sending is null)
            StartNext();
    }

    internal void Hear(ProvisioningCargo cargo)
    {
        if (_closed || cargo.LinkId != LinkId || cargo.FromDevice == isDevice)
            return;
        if (cargo is TransactionAckCargo acknowledgment && _sending is not null && acknowledgment.Number == _number)
        {
            _sending = null;
            _number = isDevice ? (byte)(((_number + 1) & 0x7F) | 0x80) : (byte)((_number + 1) & 0x7F);
            StartNext();
        }
        else if (cargo is SegmentCargo segment)
            Take(segment);
    }

    /// <summary>Sends a PB-ADV PDU after the random 20-50 ms that stand before each one.</summary>
    internal void Put(byte number, byte[] generic, ProvisioningCargo cargo, long extraUs = 0)
    {
        byte[] pdu = new byte[PbAdvPdu.HeaderLength + generic.Length], advData = new byte[pdu.Length + 2];
        PbAdvPdu.Write(pdu, LinkId, number, generic);
        AdStructureWriter.Write(advData, AdType.PbAdv, pdu);
        world.Time.After(extraUs + random.Between(20_000, 50_000), () => node.SendProvisioning(advData, cargo));
    }

    private void StartNext()
    {
        if (!_waiting.TryDequeue(out _sending))
            return;
        truth.Pdus++;
        (_giveUpUs, _rounds) = (world.Time.NowUs + TransactionUs, 0);
        SendFrom(0, _number);
    }

    /// <summary>The segments one after the other; behind the last one the wait for the acknowledgment.</summary>
    private void SendFrom(int segment, byte number)
    {
        if (_closed || _sending is null || number != _number)
            return;
        if (segment == 0)
        {
            if (world.Time.NowUs >= _giveUpUs)
            {
                Unacknowledged?.Invoke();
                return;
            }
            if (_rounds++ > 0)
                truth.Repeats++;
        }
        int segments = ProvisioningSegmenter.SegmentCount(_sending.Length);
        byte[] generic = new byte[PbAdvPdu.LongestGenericProvisioningPdu];
        int length = ProvisioningSegmenter.Write(generic, _sending, segment);
        Put(number, generic[..length], new SegmentCargo(LinkId, isDevice, number, _sending, segment, segments));
        world.Time.After(segment + 1 < segments ? 50_000 : RepeatUs, () => SendFrom((segment + 1) % segments, number));
    }

    private void Take(SegmentCargo segment)
    {
        if (!_received.Contains(segment.Number))
        {
            if (!_segments.TryGetValue(segment.Number, out var have))
                _segments.Add(segment.Number, have = []);
            have.Add(segment.Segment);
            if (have.Count < segment.Segments)
                return;
            _received.Add(segment.Number);
            Acknowledge(segment.Number);
            Received?.Invoke(segment.Pdu);
        }
        else if (segment.Segment == segment.Segments - 1)
            Acknowledge(segment.Number);   // it was acknowledged before: once more for this repetition
    }

    private void Acknowledge(byte number)
    {
        byte[] generic = new byte[TransactionAcknowledgment.Length];
        TransactionAcknowledgment.Write(generic);
        Put(number, generic, new TransactionAckCargo(LinkId, isDevice, number), isDevice ? node.Plan.Habits.ProvisioningAckDelayUs : 0);
    }
}
