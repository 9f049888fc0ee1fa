using System.Diagnostics.CodeAnalysis;
using System.Net;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Udp;

/// <summary>
/// Frames that receivers sent over the building's IP network, out of captures of that network: each sender's address is a receiver of its own. Frames of other
/// link types pass as they are.
/// </summary>
/// <remarks>Times are those at which the datagrams were captured. A lost datagram is a frame not heard.</remarks>
public sealed class UdpSource : IFrameSource
{
    /// <summary>Addresses that are taken for receivers; no building has so many, and each costs memory in the analysis.</summary>
    public const int MostSenders = 256;

    private readonly IFrameSource _inner;
    private readonly UdpEncapsulation _encapsulation;
    private readonly List<ReceiverDescription> _receivers = [];
    private readonly List<int> _passed = [];        // number here of each inner receiver, -1 for an interface of an IP network
    private readonly Dictionary<(int Interface, IPAddress Sender), int> _senders = [];

    /// <param name="inner">Captures of the network; disposed with this.</param>
    /// <param name="encapsulation">Port and content.</param>
    public UdpSource(IFrameSource inner, UdpEncapsulation encapsulation)
    {
        ArgumentNullException.ThrowIfNull(inner);
        ArgumentNullException.ThrowIfNull(encapsulation);
        ArgumentOutOfRangeException.ThrowIfLessThan(encapsulation.Port, 1, nameof(encapsulation));
        ArgumentOutOfRangeException.ThrowIfGreaterThan(encapsulation.Port, ushort.MaxValue, nameof(encapsulation));
        _inner = inner;
        _encapsulation = encapsulation;
    }

    public UdpEncapsulation Encapsulation => _encapsulation;

    /// <summary>What was met so far.</summary>
    public UdpCounts Counts { get; } = new();

    /// <summary>Packets that the recorders of the IP network themselves report as dropped: from which sender, nobody knows.</summary>
    public long ReportedDropped => _inner.Receivers.Where(receiver => UdpEncapsulation.IsCarrier(receiver.LinkType)).Sum(receiver => receiver.ReportedDropped ?? 0);

    /// <summary>Addresses that were taken for receivers.</summary>
    public IEnumerable<IPAddress> Senders => _senders.Keys.Select(key => key.Sender);

    public IReadOnlyList<ReceiverDescription> Receivers
    {
        get
        {
            NoteReceivers();
            for (int inner = 0; inner < _passed.Count; inner++)
            {
                if (_passed[inner] >= 0)
                    _receivers[_passed[inner]].ReportedDropped = _inner.Receivers[inner].ReportedDropped;
            }
            return _receivers;
        }
    }

    public CaptureDamage? Damage => _inner.Damage;

    public IReadOnlyList<CaptureDamage> AllDamage => _inner.AllDamage;

    public long Position => _inner.Position;

    public long? Length => _inner.Length;

    /// <summary>Opens capture files as <see cref="CaptureFile.OpenAll"/> does; with an encapsulation the source is one of this kind.</summary>
    /// <exception cref="CaptureFormatException">One of the files cannot be opened or is no capture.</exception>
    [SuppressMessage("Reliability", "CA2000", Justification = "The source that is returned owns the one within.")]
    public static IFrameSource OpenAll(IReadOnlyList<string> paths, UdpEncapsulation? encapsulation)
    {
        IFrameSource files = CaptureFile.OpenAll(paths);
        return encapsulation is null ? files : new UdpSource(files, encapsulation);
    }

    public bool TryReadNext(out CapturedFrame frame)
    {
        while (_inner.TryReadNext(out CapturedFrame met))
        {
            NoteReceivers();
            if (_passed[met.Receiver] is var passed and >= 0)
            {
                frame = At(in met, passed);
                return true;
            }
            UdpFate fate = UdpUnwrapper.Unwrap(in met, _encapsulation, out CapturedFrame carried, out IPAddress? sender, out int? port);
            Counts.Count(fate, port, fate == UdpFate.Datagram && carried.IsCut);
            if (fate != UdpFate.Datagram)
                continue;
            if (ReceiverOf(met.Receiver, sender!) is { } receiver)
            {
                frame = At(in carried, receiver);
                return true;
            }
            Counts.OverLimit++;
        }
        frame = default;
        return false;
    }

    public void Dispose() => _inner.Dispose();

    private void NoteReceivers()
    {
        while (_passed.Count < _inner.Receivers.Count)
        {
            ReceiverDescription inner = _inner.Receivers[_passed.Count];
            bool carrier = UdpEncapsulation.IsCarrier(inner.LinkType);
            _passed.Add(carrier ? -1 : _receivers.Count);
            if (!carrier)
                _receivers.Add(inner with { Index = _receivers.Count });
        }
    }

    private int? ReceiverOf(int carrier, IPAddress sender)
    {
        if (_senders.TryGetValue((carrier, sender), out int known))
            return known;
        if (_senders.Count == MostSenders)
            return null;
        ReceiverDescription inner = _inner.Receivers[carrier];
        int number = _receivers.Count;
        string name = inner.Interface is { Length: > 0 } ? $"{inner.Interface} {sender}" : sender.ToString();
        _receivers.Add(new ReceiverDescription(number, inner.File, name, _encapsulation.LinkType) { TimeResolutionExponent = inner.TimeResolutionExponent });
        _senders.Add((carrier, sender), number);
        return number;
    }

    private static CapturedFrame At(scoped in CapturedFrame frame, int receiver) => new()
    {
        Receiver = receiver, LinkType = frame.LinkType, TimeNs = frame.TimeNs, OriginalLength = frame.OriginalLength, FileOffset = frame.FileOffset,
        Octets = frame.Octets, Hci = frame.Hci, MarkedCrcBad = frame.MarkedCrcBad,
    };
}
