using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>Puts one segmented message together again and acknowledges it (Mesh Protocol 1.1 §3.5.3.4), unless a Friend has done so.</summary>
internal sealed class SegmentReceiver(MeshNode node, MeshWorld world, SegmentContent first, Action<bool> forget, bool acknowledges = true)
{
    private readonly uint _all = first.SegN == 31 ? uint.MaxValue : (1u << (first.SegN + 1)) - 1;
    private uint _block;
    private Alarm? _acknowledgment, _discard;
    private long _lastAcknowledgedUs = long.MinValue / 2;

    private int AcknowledgmentMs => SarTimers.AcknowledgmentMs(node.Plan.Sar, first.Message.Ttl, first.SegN);

    internal void Take(SegmentContent segment)
    {
        uint bit = 1u << segment.SegO;
        if (_block == _all)
        {
            // A late segment of a finished message: acknowledged again, but not more often than the acknowledgment timer allows.
            if (world.Time.NowUs - _lastAcknowledgedUs >= AcknowledgmentMs * 1000L)
                Acknowledge();
            return;
        }
        bool isNew = (_block & bit) == 0;
        _block |= bit;
        if (isNew)
        {
            _discard?.Cancelled = true;
            _discard = world.Time.After(SarTimers.DiscardMs * 1000L, Discard);
        }
        if (_block == _all)
        {
            _acknowledgment?.Cancelled = true;
            Acknowledge();
            segment.Truth.Arrived.Add((first.Message.Dst.IsUnicast ? first.Message.Dst : node.Unicast, world.Time.NowUs));
            node.Reassembled(first.Message);
        }
        else if (first.Message.Dst.IsUnicast)
        {
            // 1.1 starts the timer anew with every segment (from memory); 1.0 lets it run.
            if (node.Plan.Sar == Scenarios.SarEdition.V11)
                _acknowledgment?.Cancelled = true;
            if (_acknowledgment is null or { Cancelled: true })
                _acknowledgment = world.Time.After(AcknowledgmentMs * 1000L, AcknowledgmentDue);
        }
    }

    private void AcknowledgmentDue()
    {
        _acknowledgment = null;
        if (_block != _all)
            Acknowledge();
    }

    private void Acknowledge()
    {
        if (!first.Message.Dst.IsUnicast || !node.Station.On || !acknowledges)
            return;
        _lastAcknowledgedUs = world.Time.NowUs;
        node.Acknowledge(first, _block);
    }

    /// <summary>Silence for the whole discard time: an unfinished message is dropped, a finished one forgotten.</summary>
    private void Discard()
    {
        _acknowledgment?.Cancelled = true;
        if (_block != _all)
            first.Message.Press?.Note(node.Unicast, Truth.Reach.SegmentsMissing);
        forget(_block == _all);
    }
}
