using System.Diagnostics;

namespace MeshTrace.Captures.Files;

/// <summary>A window that slides over a stream: the octets not yet read stand in one buffer, and records are spans into it.</summary>
internal sealed class OctetWindow : IDisposable
{
    /// <summary>Enough for every file header, so that opening many files takes little memory.</summary>
    private const int FirstSize = 4096;

    /// <summary>Large enough that calls of the stream cost nothing, small enough for the cache of one core.</summary>
    private const int UsualSize = 256 * 1024;

    private readonly Stream _stream;
    private readonly long _origin;      // where the capture begins in the stream, if that can seek
    private byte[] _buffer = new byte[FirstSize];
    private int _start;                 // first octet not yet read
    private int _end;                   // behind the last octet in the buffer
    private long _bufferAt;             // offset of the buffer's first octet in the capture
    private bool _ended;

    /// <param name="stream">Read from where it stands; disposed with this.</param>
    /// <param name="growing">True where reading waits for what is not there yet, so that nothing may be asked for that is not needed.</param>
    public OctetWindow(Stream stream, bool growing = false)
    {
        _stream = stream;
        IsGrowing = growing;
        CanSeek = stream.CanSeek;
        if (CanSeek)
        {
            _origin = stream.Position;
            Length = Math.Max(0, stream.Length - _origin);
        }
    }

    /// <summary>Offset of the next octet that is not yet read, from the beginning of the capture.</summary>
    public long Position => _bufferAt + _start;

    /// <summary>Octets of the capture, or null where the stream does not tell.</summary>
    public long? Length { get; }

    public bool CanSeek { get; }

    /// <summary>True where reading waits for what is not there yet.</summary>
    public bool IsGrowing { get; }

    /// <summary>Why the stream ended before its end (device error, damaged packing), or null. The error itself is in
    /// <see cref="Error"/>.</summary>
    public string? Problem { get; private set; }

    public Exception? Error { get; private set; }

    /// <summary>Octets that are in the buffer now.</summary>
    public ReadOnlySpan<byte> Available => new(_buffer, _start, _end - _start);

    /// <summary>Makes at least <paramref name="needed"/> octets available; false if the stream ends before. Spans taken before are no
    /// longer valid.</summary>
    public bool Fill(int needed)
    {
        if (_end - _start >= needed)
            return true;

        Debug.Assert(needed <= CaptureLimits.LongestRecord, "the caller checks lengths before it asks");
        bool wasFull = _end == _buffer.Length;
        byte[] target = wasFull && _buffer.Length < UsualSize ? new byte[UsualSize] : _buffer;
        Buffer.BlockCopy(_buffer, _start, target, 0, _end - _start);
        _buffer = target;
        _end -= _start;
        _bufferAt += _start;
        _start = 0;

        while (_end < needed && !_ended)
        {
            if (_end == _buffer.Length) // all of it holds octets that arrived, so memory follows the input and not a length field
                Array.Resize(ref _buffer, Math.Min(Math.Max(_buffer.Length * 2, UsualSize), CaptureLimits.LongestRecord));
            int read = ReadStream(_buffer.AsSpan(_end));
            _ended = read == 0;
            _end += read;
        }

        return _end >= needed;
    }

    public void Advance(int count) => _start += count;

    /// <summary>Passes over octets without holding them; false if there are fewer.</summary>
    public bool Skip(long count)
    {
        int here = (int)Math.Min(count, _end - _start);
        Advance(here);
        count -= here;
        if (count > 0 && CanSeek && Length is { } length)
        {
            long ahead = Math.Clamp(length - Position, 0, count);
            _stream.Seek(ahead, SeekOrigin.Current);
            _bufferAt = Position + ahead;
            _start = _end = 0;
            count -= ahead;
        }

        while (count > 0 && Fill(1))
        {
            here = (int)Math.Min(count, _end - _start);
            Advance(here);
            count -= here;
        }

        return count == 0;
    }

    /// <summary>Gives up everything that is left: the reader no longer knows where records begin.</summary>
    public void Abandon()
    {
        Advance(_end - _start);
        _ended = true;
    }

    /// <summary>Stands at an offset again; false where the stream cannot go there.</summary>
    public bool TrySeek(long offset)
    {
        if (!CanSeek)
            return offset >= Position && Skip(offset - Position);
        if (offset > Length)
            return false;
        _stream.Seek(_origin + offset, SeekOrigin.Begin);
        _start = _end = 0;
        _bufferAt = offset;
        _ended = false;
        return true;
    }

    public void Dispose() => _stream.Dispose();

    private int ReadStream(Span<byte> target)
    {
        try
        {
            return _stream.Read(target);
        }
        catch (InvalidDataException e)
        {
            (Problem, Error) = ("the gzip packing is damaged", e);
        }
        catch (EndOfStreamException e)
        {
            (Problem, Error) = ("the gzip packing ends too early", e);
        }
        catch (Exception e) when (e is IOException or UnauthorizedAccessException)
        {
            (Problem, Error) = ("the file cannot be read on", e);
        }

        return 0;
    }
}
