using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Provisioning;

namespace MeshTrace.Analysis.Commissioning;

/// <summary>How often one transaction of a provisioning link was sent and acknowledged, as heard (Mesh Protocol 1.1 §5.3.3).</summary>
public sealed class ProvisioningTransaction(byte number)
{
    /// <summary>The same segment again after this time belongs to another sending; sooner it is the advertiser's own repetition (ours).</summary>
    private const long SendingNs = 300_000_000;

    /// <summary>With another segment between them sooner: no pass over several segments is faster (20 ms at least stand before each, §5.2.1; ours).</summary>
    private const long PassNs = 100_000_000;

    private readonly List<Segment> _segments = [];      // 64 at most: the index has 6 bits
    private int _lastIndex = -1;
    private long _lastAckNs = CapturedFrame.NoTime;

    /// <summary>0x00-0x7F of the provisioner, 0x80-0xFF of the device (§5.2.1).</summary>
    public byte Number { get; } = number;

    /// <summary>How often its most heard segment was sent, its bursts counted once each: passes over the transaction that were heard.</summary>
    public int Sendings { get; private set; }

    /// <summary>Transaction Acknowledgments that were heard, each burst once.</summary>
    public int Acknowledgments { get; private set; }

    /// <summary>Different segments that were heard.</summary>
    public int SegmentsHeard => _segments.Count;

    /// <summary>Its segments: by its Transaction Start, else at least so many.</summary>
    public int Segments { get; private set; } = 1;

    /// <summary>First and last hearing of a segment.</summary>
    public long FirstTimeNs { get; private set; } = CapturedFrame.NoTime;
    public long LastTimeNs { get; private set; } = CapturedFrame.NoTime;

    /// <summary>Counts one hearing of one of its bearer PDUs; without times no repetition can be counted.</summary>
    /// <param name="format">What it is; bearer control does not belong to a transaction.</param>
    /// <param name="pdu">The generic provisioning PDU, one octet or more.</param>
    /// <param name="timeNs">When it was heard, or no time.</param>
    internal void Hear(GenericProvisioningFormat format, ReadOnlySpan<byte> pdu, long timeNs)
    {
        switch (format)
        {
            case GenericProvisioningFormat.TransactionStart when TransactionStart.TryRead(pdu, out TransactionStart start, out _):
                Segments = start.SegN + 1;
                Hear(0, timeNs);
                break;
            case GenericProvisioningFormat.TransactionContinuation when TransactionContinuation.TryRead(pdu, out TransactionContinuation next, out _):
                Segments = Math.Max(Segments, next.SegmentIndex + 1);
                Hear(next.SegmentIndex, timeNs);
                break;
            case GenericProvisioningFormat.TransactionAcknowledgment:
                if (Acknowledgments == 0 || IsLater(_lastAckNs, timeNs, SendingNs))
                    Acknowledgments++;
                _lastAckNs = timeNs;
                break;
        }
    }

    private void Hear(int index, long timeNs)
    {
        int at = _segments.FindIndex(one => one.Index == index);
        if (at < 0)
        {
            _segments.Add(new Segment(index, 1, timeNs));
            Sendings = Math.Max(Sendings, 1);
        }
        else
        {
            bool again = IsLater(_segments[at].LastNs, timeNs, _lastIndex == index ? SendingNs : PassNs);
            _segments[at] = new Segment(index, _segments[at].Sendings + (again ? 1 : 0), timeNs);
            Sendings = Math.Max(Sendings, _segments[at].Sendings);
        }
        _lastIndex = index;
        if (timeNs == CapturedFrame.NoTime)
            return;
        if (FirstTimeNs == CapturedFrame.NoTime)
            FirstTimeNs = timeNs;
        LastTimeNs = timeNs;
    }

    private static bool IsLater(long lastNs, long timeNs, long byNs) =>
        lastNs != CapturedFrame.NoTime && timeNs != CapturedFrame.NoTime && (double)timeNs - lastNs > byNs;

    private readonly record struct Segment(int Index, int Sendings, long LastNs);
}
