namespace MeshTrace.Captures.Udp;

/// <summary>What the frames of an IP network were.</summary>
public sealed class UdpCounts
{
    private const int MostPorts = 256;      // a scan of all ports must not take memory

    private readonly long[] _fates = new long[(int)UdpFate.Datagram + 1];
    private readonly Dictionary<int, long> _otherPorts = [];

    /// <summary>Frames with this fate.</summary>
    public long this[UdpFate fate] => _fates[(int)fate];

    /// <summary>Of the datagrams for the port, those whose end the capture cut.</summary>
    public long CutDatagrams { get; private set; }

    /// <summary>Datagrams left out because they came from more addresses than <see cref="UdpSource.MostSenders"/>.</summary>
    public long OverLimit { get; internal set; }

    /// <summary>Other destination ports, the most frequent first.</summary>
    public IEnumerable<(int Port, long Datagrams)> OtherPorts => _otherPorts.OrderByDescending(entry => entry.Value).ThenBy(entry => entry.Key).Select(entry => (entry.Key, entry.Value));

    internal void Count(UdpFate fate, int? port, bool cut)
    {
        _fates[(int)fate]++;
        if (fate == UdpFate.Datagram && cut)
            CutDatagrams++;
        if (fate == UdpFate.OtherPort && port is { } other && (_otherPorts.ContainsKey(other) || _otherPorts.Count < MostPorts))
            _otherPorts[other] = _otherPorts.GetValueOrDefault(other) + 1;
    }
}
