using System.Diagnostics.CodeAnalysis;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Live;

/// <summary>
/// Between the threads that read and the one that collects: bounded in frames and octets. An input that can wait (a file, a pipe) waits while it is full; one that
/// cannot (the air) loses the frame, which is counted. What is not a frame always finds room.
/// </summary>
[SuppressMessage("Design", "CA1001", Justification = "The events are waited for without a handle of the system, so they hold nothing that needs to be given back.")]
public sealed class FrameQueue
{
    /// <summary>Frames and octets that usually may wait.</summary>
    public const int UsualFrames = 1 << 16, UsualOctets = 16 * 1024 * 1024;

    private readonly int _mostFrames, _mostOctets;
    private readonly Lock _lock = new();
    private readonly ManualResetEventSlim _room = new(true), _some = new(false);
    private Queue<LiveItem> _waiting = new(), _taken = new();
    private readonly Stack<LiveItem> _free = new();
    private int _frames, _octets;
    private long _lost;
    private bool _closed;

    /// <param name="mostFrames">Frames that may wait.</param>
    /// <param name="mostOctets">Octets of frames that may wait; one frame may wait however long it is.</param>
    public FrameQueue(int mostFrames = UsualFrames, int mostOctets = UsualOctets) => (_mostFrames, _mostOctets) = (mostFrames, mostOctets);

    /// <summary>Frames that were lost because the queue was full.</summary>
    public long Lost => Interlocked.Read(ref _lost);

    /// <summary>Frames that wait now.</summary>
    public int Waiting => Volatile.Read(ref _frames);

    /// <summary>Puts a frame in.</summary>
    /// <param name="lane">Number of the input.</param>
    /// <param name="frame">The frame; copied.</param>
    /// <param name="receiver">Number of its receiver within the input.</param>
    /// <param name="waits">Whether to wait for room, or to lose the frame.</param>
    /// <returns>False once the queue is closed: nobody takes anything any more.</returns>
    public bool Put(int lane, scoped in CapturedFrame frame, int receiver, bool waits)
    {
        while (true)
        {
            lock (_lock)
            {
                if (_closed)
                    return false;
                if (_frames == 0 || (_frames < _mostFrames && _octets + frame.Octets.Length <= _mostOctets))
                {
                    if (!_free.TryPop(out LiveItem? item))
                        item = new LiveItem();
                    (item.Lane, item.Kind) = (lane, LiveItemKind.Frame);
                    item.Frame.Take(in frame, receiver);
                    _frames++;
                    _octets += frame.Octets.Length;
                    _waiting.Enqueue(item);
                    _some.Set();
                    return true;
                }
                if (!waits)
                {
                    Interlocked.Increment(ref _lost);
                    return true;
                }
                _room.Reset();
            }
            _room.Wait();
        }
    }

    /// <summary>Puts something in that is no frame.</summary>
    public void Put(LiveItem item)
    {
        ArgumentNullException.ThrowIfNull(item);
        lock (_lock)
        {
            _waiting.Enqueue(item);
            _some.Set();
        }
    }

    /// <summary>Takes everything that waits, in order; waits a while for something where there is nothing.</summary>
    /// <param name="take">Given each item; it is used again afterwards.</param>
    /// <param name="longest">Longest wait.</param>
    /// <param name="stop">Ends the wait.</param>
    /// <returns>How many were taken.</returns>
    public int TakeAll(Action<LiveItem> take, TimeSpan longest, CancellationToken stop = default)
    {
        ArgumentNullException.ThrowIfNull(take);
        if (longest > TimeSpan.Zero && !stop.IsCancellationRequested)
        {
            try
            {
                _some.Wait(longest, stop);
            }
            catch (OperationCanceledException)
            {
                // what is there is taken all the same
            }
        }
        lock (_lock)
        {
            (_waiting, _taken) = (_taken, _waiting);
            (_frames, _octets) = (0, 0);
            _some.Reset();
            _room.Set();
        }
        int count = _taken.Count;
        while (_taken.TryDequeue(out LiveItem? item))
        {
            take(item);
            if (item.Kind != LiveItemKind.Frame)
                continue;
            lock (_lock)
            {
                if (_free.Count < _mostFrames)
                    _free.Push(item);
            }
        }
        return count;
    }

    /// <summary>Takes no more frames: whoever waits for room is told.</summary>
    public void Close()
    {
        lock (_lock)
        {
            _closed = true;
            _room.Set();
        }
    }
}
