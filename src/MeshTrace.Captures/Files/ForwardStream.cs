namespace MeshTrace.Captures.Files;

/// <summary>A stream that can only be read forward, over another one that it owns.</summary>
internal abstract class ForwardStream(Stream inner) : Stream
{
    public override bool CanRead => true;

    public override bool CanSeek => false;

    public override bool CanWrite => false;

    public override long Length => throw new NotSupportedException();

    public override long Position
    {
        get => throw new NotSupportedException();
        set => throw new NotSupportedException();
    }

    protected Stream Inner { get; } = inner;

    public abstract override int Read(Span<byte> buffer);

    public override int Read(byte[] buffer, int offset, int count) => Read(buffer.AsSpan(offset, count));

    public override void Flush()
    {
    }

    public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

    public override void SetLength(long value) => throw new NotSupportedException();

    public override void Write(byte[] buffer, int offset, int count) => throw new NotSupportedException();

    protected override void Dispose(bool disposing)
    {
        if (disposing)
            Inner.Dispose();
        base.Dispose(disposing);
    }
}

/// <summary>A stream of which the first octets were already read: gives them once more, then the rest.</summary>
internal sealed class ReplayStream(ReadOnlyMemory<byte> first, Stream inner) : ForwardStream(inner)
{
    private ReadOnlyMemory<byte> _first = first;

    public override int Read(Span<byte> buffer)
    {
        if (_first.IsEmpty)
            return Inner.Read(buffer);
        int count = Math.Min(buffer.Length, _first.Length);
        _first.Span[..count].CopyTo(buffer);
        _first = _first[count..];
        return count;
    }
}
