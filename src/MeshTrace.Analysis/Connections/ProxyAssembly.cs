using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Proxy;

namespace MeshTrace.Analysis.Connections;

/// <summary>
/// Puts the segments of Proxy PDUs of one characteristic together (Mesh Protocol 1.1 §6.3). A segment that does not continue what is open ends it
/// unfinished: nothing is ever given of which a segment was seen to be missing.
/// </summary>
internal sealed class ProxyAssembly
{
    /// <summary>A sender that pauses longer has given up (§6.3.2.2).</summary>
    public const long LongestPauseNs = 20_000_000_000;

    /// <summary>Octets of one message that are kept: above any provisioning PDU that fits some values of an attribute.</summary>
    public const int LongestMessage = 4096;

    private byte[] _buffer = [];
    private int _have;
    private bool _isOpen;
    private ProxyMessageType _type;
    private long _lastNs;

    /// <summary>The message, after <see cref="Take"/> returned true.</summary>
    public ReadOnlySpan<byte> Whole => _buffer.AsSpan(0, _have);

    /// <summary>Takes a Proxy PDU.</summary>
    /// <param name="pdu">The PDU.</param>
    /// <param name="timeNs">When it came, or no time.</param>
    /// <param name="lost">Messages that were given up.</param>
    /// <returns>True if a message is whole now.</returns>
    public bool Take(in ProxyPdu pdu, long timeNs, out int lost)
    {
        bool late = _isOpen && timeNs != CapturedFrame.NoTime && _lastNs != CapturedFrame.NoTime && timeNs - _lastNs > LongestPauseNs;
        bool starts = pdu.Sar is Sar.Complete or Sar.First;
        lost = 0;
        if (_isOpen && (starts || late || pdu.MessageType != _type))
        {
            _isOpen = false;
            lost++;
        }
        if (!starts && !_isOpen)
        {
            lost = Math.Max(lost, 1);
            return false;
        }
        if (starts)
        {
            _have = 0;
            _type = pdu.MessageType;
        }
        if (_have + pdu.Data.Length > LongestMessage)
        {
            _isOpen = false;
            lost++;
            return false;
        }
        if (_buffer.Length < _have + pdu.Data.Length)
            Array.Resize(ref _buffer, Math.Max(_have + pdu.Data.Length, 64));
        pdu.Data.CopyTo(_buffer.AsSpan(_have));
        _have += pdu.Data.Length;
        _lastNs = timeNs;
        _isOpen = pdu.Sar is Sar.First or Sar.Continuation;
        return !_isOpen;
    }

    /// <summary>Gives up what is open; true if there was something.</summary>
    public bool Drop()
    {
        bool open = _isOpen;
        _isOpen = false;
        return open;
    }
}
