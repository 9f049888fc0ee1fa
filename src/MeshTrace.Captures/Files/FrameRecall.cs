using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Files;

/// <summary>Reads single frames of a capture file again, for views that show octets: a history keeps only where the record of a frame
/// begins.</summary>
/// <remarks>
/// Plain files are sought in; what decides how a record is read (sections, interfaces) is collected once, on the way to the farthest
/// offset asked for so far. Packed files are unpacked again from the beginning when an earlier frame is asked for. Not safe for several
/// threads at once.
/// </remarks>
public sealed class FrameRecall : IDisposable
{
    private readonly string _path;
    private readonly int _firstReceiver;
    private CaptureFileSource _source;

    private FrameRecall(string path, int firstReceiver)
    {
        _path = path;
        _firstReceiver = firstReceiver;
        _source = Reopen();
    }

    /// <summary>Opens a file that was read before, and is still there.</summary>
    /// <param name="path">As in <see cref="ReceiverDescription.File"/>; standard input and pipes cannot be read again.</param>
    /// <param name="firstReceiver">Number that the first receiver of this file had.</param>
    /// <exception cref="CaptureFormatException">The file can no longer be opened.</exception>
    /// <exception cref="ArgumentException">The path means standard input.</exception>
    public static FrameRecall Open(string path, int firstReceiver = 0)
    {
        if (path == CaptureFile.StandardInput)
            throw new ArgumentException("standard input cannot be read a second time", nameof(path));
        return new FrameRecall(path, firstReceiver);
    }

    /// <summary>Reads the frame again whose <see cref="CapturedFrame.FileOffset"/> is given; valid until the next call.</summary>
    /// <returns>False if no frame begins there, which means that the file has been changed since.</returns>
    /// <exception cref="CaptureFormatException">The file had to be opened anew and can no longer be opened.</exception>
    public bool TryRead(long fileOffset, out CapturedFrame frame)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(fileOffset);
        if (!_source.CanGoTo(fileOffset))
        {
            _source.Dispose();
            _source = Reopen();
        }

        return _source.TryReadAt(fileOffset, out frame);
    }

    public void Dispose() => _source.Dispose();

    private CaptureFileSource Reopen() => CaptureFile.OpenSource(_path, _firstReceiver);
}
