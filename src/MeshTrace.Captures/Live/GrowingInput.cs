using System.Diagnostics.CodeAnalysis;
using MeshTrace.Captures.Files;

namespace MeshTrace.Captures.Live;

/// <summary>
/// A file that somebody is still writing, or a pipe: at the end of what is there, reading waits for more. A pipe ends when its writer is gone; a file when it was
/// replaced, or when reading is asked to stop.
/// </summary>
/// <remarks>
/// Whether a file is still the same is told by its content: the last octets read must stand where they were read. That holds on every platform, and needs no
/// numbers of the file system. Not safe for several threads at once.
/// </remarks>
internal sealed class GrowingInput : ForwardStream
{
    /// <summary>Between two looks at a file that gives no more.</summary>
    public static readonly TimeSpan BetweenLooks = TimeSpan.FromMilliseconds(100);

    /// <summary>Octets by which a file is known again: some records with their times.</summary>
    private const int KnownBy = 1024;

    private readonly string? _path;
    private readonly CancellationToken _stop;
    private readonly byte[] _last = new byte[KnownBy];
    private Stream _file;
    private int _lastCount;
    private long _position;
    private bool _waited;

    /// <param name="file">Read from its beginning; disposed with this.</param>
    /// <param name="path">Where the file stands, to be followed; null for a pipe.</param>
    /// <param name="stop">Ends the input.</param>
    public GrowingInput(Stream file, string? path, CancellationToken stop) : base(file)
    {
        _file = file;
        _path = path;
        _stop = stop;
    }

    /// <summary>Why it ended.</summary>
    public InputEnd End { get; private set; }

    /// <summary>True while the path leads nowhere: the file was moved away and no other one has come.</summary>
    public bool IsMissing { get; private set; }

    /// <summary>Told each time <see cref="IsMissing"/> becomes true.</summary>
    public Action? OnMissing { get; init; }

    /// <summary>Given all octets as they come, or null.</summary>
    public Action<ReadOnlyMemory<byte>>? Tap { get; set; }

    public override int Read(Span<byte> buffer)
    {
        while (End == InputEnd.None && !buffer.IsEmpty)
        {
            if (_stop.IsCancellationRequested)
                End = InputEnd.Stopped;
            else if (TryRead(buffer, out int read))
                return read;
        }
        return 0;
    }

    protected override void Dispose(bool disposing)
    {
        if (disposing)
            _file.Dispose();
        base.Dispose(disposing);
    }

    private bool TryRead(Span<byte> buffer, out int read)
    {
        read = 0;
        // A file that was cut and written again may be longer than before at the next look: what stands there is then another capture.
        bool same = !_waited || IsSame(out _);
        _waited = false;
        if (same && ReadOn(buffer, out read))
            return true;
        if (_path is null)
        {
            End = InputEnd.WriterGone;
            return false;
        }
        if (IsSame(out long length))
        {
            if (!IsMissing && length > _position)
                ReopenHere();
            _waited = true;
            _stop.WaitHandle.WaitOne(BetweenLooks);
            return false;
        }
        if (same && ReadOn(buffer, out read))
            return true;        // what its writer wrote last, before it took another file
        End = InputEnd.Replaced;
        return false;
    }

    private bool ReadOn(Span<byte> buffer, out int read)
    {
        read = _file.Read(buffer);
        if (read > 0)
            Remember(buffer[..read]);
        return read > 0;
    }

    private void Remember(ReadOnlySpan<byte> octets)
    {
        Tap?.Invoke(octets.ToArray());
        _position += octets.Length;
        if (octets.Length >= KnownBy)
        {
            octets[^KnownBy..].CopyTo(_last);
            _lastCount = KnownBy;
            return;
        }
        int kept = Math.Min(_lastCount, KnownBy - octets.Length);
        _last.AsSpan(_lastCount - kept, kept).CopyTo(_last);
        octets.CopyTo(_last.AsSpan(kept));
        _lastCount = kept + octets.Length;
    }

    /// <summary>True where the path leads to what was read: to nothing, too, for then nothing has come in its place.</summary>
    private bool IsSame(out long length)
    {
        length = 0;
        if (_path is null)
            return true;
        bool missing = !File.Exists(_path);
        if (missing && !IsMissing)
            OnMissing?.Invoke();
        IsMissing = missing;
        if (missing)
            return true;
        try
        {
            using Stream now = CaptureFile.OpenStream(_path);
            length = now.Length;
            if (length < _position)
                return false;
            Span<byte> stands = stackalloc byte[KnownBy];
            now.Seek(_position - _lastCount, SeekOrigin.Begin);
            return now.ReadAtLeast(stands[.._lastCount], _lastCount, throwOnEndOfStream: false) == _lastCount && stands[.._lastCount].SequenceEqual(_last.AsSpan(0, _lastCount));
        }
        catch (Exception e) when (e is CaptureFormatException or IOException or UnauthorizedAccessException)
        {
            return true;        // just taken away: the next look will tell
        }
    }

    /// <summary>The path leads to a copy that goes on: it is followed from here.</summary>
    [SuppressMessage("Reliability", "CA2000", Justification = "It takes the place of the stream that is owned.")]
    private void ReopenHere()
    {
        try
        {
            Stream file = CaptureFile.OpenStream(_path!);
            file.Seek(_position, SeekOrigin.Begin);
            _file.Dispose();
            _file = file;
        }
        catch (Exception e) when (e is CaptureFormatException or IOException or UnauthorizedAccessException)
        {
            // just taken away: the next look will tell
        }
    }
}
