using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Live;

/// <summary>One input of a live run. It puts what it gets into a queue, from a thread of its own, until it ends or is stopped.</summary>
public abstract class LiveInput(string name)
{
    /// <summary>As the user gave it.</summary>
    public string Name => name;

    /// <summary>Number of the input in the run.</summary>
    protected int Lane { get; private set; }

    protected FrameQueue Queue { get; private set; } = null!;

    /// <summary>Octets read so far.</summary>
    public virtual long Position => 0;

    /// <summary>Frames lost before they came to this program, as far as the system tells.</summary>
    public virtual long LostBefore => 0;

    /// <summary>Begins; at once if it cannot.</summary>
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

    protected void Describe(ReceiverDescription receiver) => Queue.Put(new LiveItem { Lane = Lane, Kind = LiveItemKind.Receiver, Receiver = receiver });

    protected void TellEnd(CaptureDamage? damage = null, string? refused = null) =>
        Queue.Put(new LiveItem { Lane = Lane, Kind = LiveItemKind.End, Damage = damage, Refused = refused });
}
