using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Provisioning;

namespace MeshTrace.Analysis.Commissioning;

/// <summary>How often one transaction of a provisioning link was sent and acknowledged, as heard (Mesh Protocol 1.1 §5.3.3).</summary>
public sealed class ProvisioningTransaction(byte number)
{
    /// <summary>The same segment again after this time belongs to another sending; sooner it is the advertiser's own repetition (ours).</summary>
    private const long SendingNs = 300_000_000;

    private long _lastStartNs = CapturedFrame.NoTime, _lastAckNs = CapturedFrame.NoTime;
    private bool _continued;

    /// <summary>0x00-0x7F of the provisioner, 0x80-0xFF of the device (§5.2.1).</summary>
    public byte Number { get; } = number;

    /// <summary>Passes over its segments that were heard.</summary>
    public int Sendings { get; private set; }

    /// <summary>Transaction Acknowledgments that were heard, each burst once.</summary>
    public int Acknowledgments { get; private set; }

    /// <summary>First and last hearing of its first segment.</summary>
    public long FirstTimeNs { get; private set; } = CapturedFrame.NoTime;
    public long LastTimeNs => _lastStartNs;

    /// <summary>Counts one hearing of one of its bearer PDUs; without times nothing can be counted.</summary>
    internal void Hear(GenericProvisioningFormat format, long timeNs)
    {
        if (timeNs == CapturedFrame.NoTime)
            return;
        switch (format)
        {
            case GenericProvisioningFormat.TransactionStart:
                if (_lastStartNs == CapturedFrame.NoTime || _continued || (double)timeNs - _lastStartNs > SendingNs)
                    Sendings++;
                if (FirstTimeNs == CapturedFrame.NoTime)
                    FirstTimeNs = timeNs;
                _lastStartNs = timeNs;
                _continued = false;
                break;
            case GenericProvisioningFormat.TransactionContinuation:
                _continued = true;
                break;
            case GenericProvisioningFormat.TransactionAcknowledgment:
                if (_lastAckNs == CapturedFrame.NoTime || (double)timeNs - _lastAckNs > SendingNs)
                    Acknowledgments++;
                _lastAckNs = timeNs;
                break;
        }
    }
}
