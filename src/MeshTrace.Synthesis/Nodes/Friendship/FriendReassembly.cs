using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Nodes.Friendship;

/// <summary>
/// A segmented message for a Low Power node at its Friend (Mesh Protocol 1.1 §3.5.3.4, §3.5.5): acknowledged on behalf of the node where it
/// has one destination, and handed to the queue when it is whole.
/// </summary>
internal sealed class FriendReassembly(
    MeshWorld world, MeshNode friend, SegmentContent first, Action<SegmentContent, uint>? acknowledge, Action<IEnumerable<PduAtTtl>> whole)
{
    private readonly uint _all = first.SegN == 31 ? uint.MaxValue : (1u << (first.SegN + 1)) - 1;
    private readonly SortedDictionary<int, PduAtTtl> _segments = [];
    private uint _block;
    private Alarm? _due;
    private long _lastUs = long.MinValue / 2;

    private long WaitUs => SarTimers.AcknowledgmentMs(friend.Plan.Sar, first.Message.Ttl, first.SegN) * 1000L;

    internal void Take(SegmentContent segment, PduAtTtl pdu)
    {
        if (_block == _all)
        {
            if (world.Time.NowUs - _lastUs >= WaitUs)
                Acknowledge();
            return;
        }
        _block |= 1u << segment.SegO;
        _segments.TryAdd(segment.SegO, pdu);
        _due?.Cancelled = true;
        if (_block == _all)
        {
            Acknowledge();
            whole(_segments.Values);
        }
        else
            _due = world.Time.After(WaitUs, Acknowledge);
    }

    private void Acknowledge()
    {
        _lastUs = world.Time.NowUs;
        acknowledge?.Invoke(first, _block);
    }
}
