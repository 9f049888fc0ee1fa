using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Captures.Files;
using MeshTrace.Captures.Udp;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Screens.Octets;

/// <summary>
/// Reads frames again when someone looks. A large or packed file takes its time, so that it is done in the background, one frame after the other; the
/// last frame asked for wins.
/// </summary>
internal sealed class FrameStore : IDisposable
{
    private readonly Action<Action> _inBackground;
    private readonly Action<Action> _toDrawing;
    private readonly Lock _files = new();
    private readonly Dictionary<string, FrameRecall> _open = [];
    private FrameOctets? _found;
    private int _wanted = -1;
    private string? _problem;

    /// <param name="inBackground">Starts work on another thread.</param>
    /// <param name="toDrawing">Passes work to the thread that draws.</param>
    public FrameStore(Action<Action> inBackground, Action<Action> toDrawing)
    {
        _inBackground = inBackground;
        _toDrawing = toDrawing;
    }

    /// <summary>What the captured UDP datagrams hold, where frames came in these.</summary>
    public UdpEncapsulation? Udp { get; init; }

    /// <summary>Gives octets out of memory, at once and whole: then no file is read. Null: frames are read again from their files.</summary>
    public Func<CaptureHistory, int, FrameOctets?>? FromMemory { get; init; }

    /// <summary>Numbers of frames mean others from now on.</summary>
    public void Forget() => (_wanted, _found) = (-1, null);

    /// <summary>The octets of a frame; null while they are being read, or where they cannot be, then with the reason.</summary>
    public FrameOctets? Find(CaptureHistory history, int frame, out string? problem)
    {
        problem = null;
        if (FromMemory is { } memory)
        {
            FrameOctets? remembered = memory(history, frame);
            problem = remembered is null ? "the frame has left the history of this run" : null;
            return remembered;
        }
        if (_wanted != frame)
        {
            _wanted = frame;
            _problem = null;
            _inBackground(() => Read(history, frame));
        }
        if (_found?.Frame == frame)
            return _found;
        problem = _problem;
        return null;
    }

    private void Read(CaptureHistory history, int frame)
    {
        FrameOctets? found = null;
        string? problem = null;
        try
        {
            FrameRow row = history.Frames[frame];
            if (row.Receiver >= history.Receivers.Count)
                problem = "the file of this frame is not known";
            else
                lock (_files)
                {
                    string file = history.Receivers[row.Receiver].File;
                    if (!_open.TryGetValue(file, out FrameRecall? recall))
                        _open.Add(file, recall = FrameRecall.Open(file));
                    if (recall.TryRead(row.FileOffset, out CapturedFrame captured))
                        found = FrameOctets.Of(frame, Carried(captured));
                    else
                        problem = "the file has been changed since it was read";
                }
        }
        catch (Exception fault) when (fault is CaptureFormatException or IOException or ArgumentException or UnauthorizedAccessException)
        {
            problem = SafeText.Strip(fault.Message.TrimEnd('.'), 300);
        }
        _toDrawing(() =>
        {
            if (_wanted != frame)
                return;
            _found = found;
            _problem = problem;
        });
    }

    private CapturedFrame Carried(CapturedFrame captured) => Udp is { } udp && UdpEncapsulation.IsCarrier(captured.LinkType)
        && UdpUnwrapper.Unwrap(in captured, udp, out CapturedFrame carried, out _, out _) == UdpFate.Datagram ? carried : captured;

    public void Dispose()
    {
        lock (_files)
        {
            foreach (FrameRecall recall in _open.Values)
                recall.Dispose();
            _open.Clear();
        }
    }
}
