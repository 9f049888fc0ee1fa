using System.Numerics;
using MeshTrace.Protocol.LowerTransport;
using MeshTrace.Synthesis.Radio;
using MeshTrace.Synthesis.Scenarios;
using MeshTrace.Synthesis.Truth;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>
/// Sends one segmented message (Mesh Protocol 1.1 §3.5.3.3): passes over the unacknowledged segments, each segment with a new SEQ, until
/// all are acknowledged, the receiver refuses, or the transmissions are used up. To a group or virtual address: a fixed number of whole
/// passes.
/// </summary>
internal sealed class SegmentSender(MeshNode node, MeshWorld world, AccessMessage message)
{
    private byte[] _upper = [];
    private TransferTruth _truth = null!;
    private readonly Queue<int> _pass = new();
    private int _segN, _passes;
    private uint _acknowledged;
    private Alarm? _timer;

    internal bool Finished { get; private set; }
    internal event Action? WhenFinished;

    private uint All => _segN == 31 ? uint.MaxValue : (1u << (_segN + 1)) - 1;

    internal FloodTruth? Start()
    {
        (message.Seq, message.IvIndex) = node.FirstOf(message.Src);
        _upper = node.EncryptUpper(message, message.Seq);
        _segN = ((_upper.Length + SegmentedAccess.SegmentLength - 1) / SegmentedAccess.SegmentLength) - 1;
        _truth = world.Truth.Transfer(message, _segN + 1, world.Time.NowUs);
        StartPass();
        return _truth.Sent.Count > 0 ? _truth.Sent[0] : null;
    }

    /// <summary>A Segment Acknowledgment for this destination has come.</summary>
    internal void Acknowledged(uint seqAuth, uint block)
    {
        if (Finished || seqAuth != message.Seq)
            return;
        if (block == 0)
        {
            Finish("cancelled");
            return;
        }
        uint before = _acknowledged;
        _acknowledged |= block & All;
        if (_acknowledged == All)
            Finish("acknowledged");
        else if (_pass.Count == 0 && _acknowledged != before && !PassesUsedUp)
        {
            _timer?.Cancelled = true;   // what is still missing goes out at once
            StartPass();
        }
    }

    private bool PassesUsedUp => _passes >= SarTimers.Transmissions(node.Plan.Sar, node.Plan.SegmentTries);

    private void StartPass()
    {
        _passes++;
        for (int segO = 0; segO <= _segN; segO++)
        {
            if ((_acknowledged & (1u << segO)) == 0)
                _pass.Enqueue(segO);
        }
        SendNext();
    }

    private void SendNext()
    {
        if (Finished)
            return;
        while (_pass.TryDequeue(out int segO))
        {
            if ((_acknowledged & (1u << segO)) != 0)
                continue;   // acknowledged while this pass was under way
            node.SendSegment(message, _upper, segO, _segN, _truth);
            if (_pass.Count > 0)
            {
                FaultyHabits habits = node.Plan.Habits;
                long waitUs = (habits.SegmentIntervalMs ?? SarTimers.SegmentIntervalMs(node.Plan.Sar)) * 1000L;
                _timer = world.Time.After(_passes == 1 && _pass.Count == 1 ? waitUs + habits.SegmentPauseUs : waitUs, SendNext);
                return;
            }
        }
        int wait = message.Dst.IsUnicast ? SarTimers.RetransmissionMs(node.Plan.Sar, message.Ttl)
            : SarTimers.MulticastMs(node.Plan.Sar, message.Ttl);
        _timer = world.Time.After(wait * 1000L, PassOver);
    }

    private void PassOver()
    {
        if (Finished)
            return;
        if (!PassesUsedUp)
            StartPass();
        else
            Finish(message.Dst.IsUnicast ? "given-up" : "sent");
    }

    private void Finish(string outcome)
    {
        Finished = true;
        _timer?.Cancelled = true;
        _truth.Outcome = outcome;
        _truth.EndUs = world.Time.NowUs;
        _truth.AcknowledgedSegments = BitOperations.PopCount(_acknowledged);
        WhenFinished?.Invoke();
    }
}
