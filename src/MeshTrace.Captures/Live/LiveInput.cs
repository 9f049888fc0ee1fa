using MeshTrace.Captures.Udp;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Live;

/// <summary>One input of a live run. It puts what it gets into a queue, from a thread of its own, until it ends or is stopped.</summary>
public abstract class LiveInput(string name)
{
    /// <summary>As the user gave it.</summary>
    public string Name => name;

    /// <summary>Number of the input in the run.</summary>
    protected int Lane { get; private set; }

    private readonly List<ReceiverDescription> _described = [];

    protected FrameQueue Queue { get; private set; } = null!;

    /// <summary>Octets read so far.</summary>
    public virtual long Position => 0;

    /// <summary>Frames lost before they came to this program, as far as the system tells.</summary>
    public virtual long LostBefore => 0;

    /// <summary>Sources of frames carried in UDP; to be read once the input has ended.</summary>
    public virtual IReadOnlyList<UdpSource> UdpSources => [];

    /// <summary>Begins to receive.</summary>
    /// <exception cref="CaptureLiveException">It cannot be received from.</exception>
    public void Start(int lane, FrameQueue queue, CancellationToken stop)
    {
        ArgumentNullException.ThrowIfNull(queue);
        (Lane, Queue) = (lane, queue);
        Begin(stop);
    }

    protected abstract void Begin(CancellationToken stop);

    /// <summary>Waits until the input has put everything it has; not longer than this, for one may hang in a read that nothing ends.</summary>
    public abstract void Join(TimeSpan longest);

    protected void Notice(string says) => Queue.Put(new LiveItem { Lane = Lane, Kind = LiveItemKind.Notice, Says = says });

    /// <summary>
    /// Tells of receivers that are new, and what their recorders report. A source that takes the place of another goes on with its receivers, as far as they are
    /// called the same.
    /// </summary>
    /// <param name="source">The source at hand.</param>
    /// <param name="numbers">Number in the input of each of its receivers; those that are missing are added.</param>
    protected void Meet(IFrameSource source, List<int> numbers)
    {
        ArgumentNullException.ThrowIfNull(source);
        ArgumentNullException.ThrowIfNull(numbers);
        for (int at = 0; at < source.Receivers.Count; at++)
        {
            ReceiverDescription receiver = source.Receivers[at];
            if (at < numbers.Count)
            {
                if (receiver.ReportedDropped == _described[numbers[at]].ReportedDropped)
                    continue;
            }
            else
            {
                int same = _described.FindIndex(known => known.Index == at && known.Interface == receiver.Interface && known.LinkType == receiver.LinkType
                    && known.TimeResolutionExponent == receiver.TimeResolutionExponent);
                numbers.Add(same >= 0 ? same : _described.Count);
                if (same >= 0)
                    continue;
                _described.Add(receiver);
            }
            ReceiverDescription now = _described[numbers[at]] = receiver with { Index = numbers[at] };
            Queue.Put(new LiveItem { Lane = Lane, Kind = LiveItemKind.Receiver, Receiver = now with { } });
        }
    }

    protected void TellEnd(CaptureDamage? damage = null, string? refused = null) =>
        Queue.Put(new LiveItem { Lane = Lane, Kind = LiveItemKind.End, Damage = damage, Refused = refused });
}
