namespace MeshTrace.Captures.Tests.Files;

/// <summary>A pipe or device: cannot seek, gives few octets a call, or two pieces, if asked to, and may fail at some octet.</summary>
internal sealed class TestStream(byte[] octets, int mostInOneCall = int.MaxValue, int failAt = int.MaxValue, Exception? failure = null, int cut = 0) : Stream
{
    private int _at;

    public bool Disposed { get; private set; }

    public override bool CanRead => true;

    public override bool CanSeek => false;

    public override bool CanWrite => false;

    public override long Length => throw new NotSupportedException();

    public override long Position
    {
        get => throw new NotSupportedException();
        set => throw new NotSupportedException();
    }

    public override int Read(Span<byte> buffer)
    {
        if (_at >= failAt)
            throw failure ?? new IOException("the device does not answer");
        int count = Math.Min(Math.Min(buffer.Length, mostInOneCall), Math.Min(_at < cut ? cut : octets.Length, failAt) - _at);
        octets.AsSpan(_at, count).CopyTo(buffer);
        _at += count;
        return count;
    }

    public override int Read(byte[] buffer, int offset, int count) => Read(buffer.AsSpan(offset, count));

    public override void Flush()
    {
    }

    public override long Seek(long offset, SeekOrigin origin) => throw new NotSupportedException();

    public override void SetLength(long value) => throw new NotSupportedException();

    public override void Write(byte[] buffer, int offset, int count) => throw new NotSupportedException();

    protected override void Dispose(bool disposing)
    {
        Disposed = true;
        base.Dispose(disposing);
    }
}
