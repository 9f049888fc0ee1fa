using System.IO.Compression;

namespace MeshTrace.Captures.Files;

/// <summary>Unpacks gzip (RFC 1952), several members too, and notices an early end, which <see cref="GZipStream"/> by itself passes over
/// in silence.</summary>
/// <remarks>
/// Behind the last packed octet a small member of our own is given to the unpacker. It is asked for only when all real octets have been
/// unpacked and handed out: if our member comes out as it went in, the real ones were whole; anything else means that the packing ended
/// too early.
/// </remarks>
internal sealed class GzipInput : ForwardStream
{
    /// <summary>The unpacker throws away what it unpacked in the call in which it meets damage: small calls, small loss.</summary>
    private const int MostInOneCall = 2048;

    private static readonly byte[] _seal = [0x9C, 0x3A, 0x71, 0xE4, 0x05, 0xB8, 0x2F, 0xD6];
    private static readonly byte[] _sealMember = Pack(_seal);

    private readonly SealedStream _packed;
    private readonly GZipStream _unpacker;

    /// <param name="packed">Read from where it stands; disposed with this.</param>
    public GzipInput(Stream packed)
        : base(packed)
    {
        _packed = new SealedStream(packed);
        _unpacker = new GZipStream(_packed, CompressionMode.Decompress, leaveOpen: true);
    }

    /// <inheritdoc />
    /// <exception cref="InvalidDataException">The packed octets contradict themselves.</exception>
    /// <exception cref="EndOfStreamException">The packed octets end too early.</exception>
    public override int Read(Span<byte> buffer)
    {
        if (buffer.IsEmpty || _packed.SealGiven)
            return 0;
        try
        {
            Span<byte> target = buffer[..Math.Min(buffer.Length, MostInOneCall)];
            int read = _unpacker.Read(target);
            if (!_packed.SealGiven)
                return read;
            CheckSeal(target[..read]);
            return 0;
        }
        catch (InvalidDataException) when (_packed.SealGiven)
        {
            throw new EndOfStreamException();
        }
    }

    protected override void Dispose(bool disposing)
    {
        if (disposing)
        {
            _unpacker.Dispose();
            _packed.Dispose();
        }

        base.Dispose(disposing);
    }

    /// <summary>What came out since the seal was given is no capture data: it must be the seal, the whole seal and nothing else.</summary>
    private void CheckSeal(ReadOnlySpan<byte> first)
    {
        Span<byte> came = stackalloc byte[_seal.Length + 1];
        int count = Math.Min(first.Length, came.Length);
        first[..count].CopyTo(came);
        while (count < came.Length && _unpacker.Read(came[count..]) is > 0 and int more)
            count += more;
        if (!came[..count].SequenceEqual(_seal))
            throw new EndOfStreamException();
    }

    private static byte[] Pack(ReadOnlySpan<byte> octets)
    {
        using var packed = new MemoryStream();
        using (var packer = new GZipStream(packed, CompressionLevel.Fastest, leaveOpen: true))
            packer.Write(octets);
        return packed.ToArray();
    }

    /// <summary>The packed octets and, behind them, the seal member.</summary>
    private sealed class SealedStream(Stream packed) : ForwardStream(packed)
    {
        private int _given;

        public bool SealGiven { get; private set; }

        public override int Read(Span<byte> buffer)
        {
            int read = SealGiven ? 0 : Inner.Read(buffer);
            if (read > 0 || buffer.IsEmpty)
                return read;
            SealGiven = true;
            read = Math.Min(buffer.Length, _sealMember.Length - _given);
            _sealMember.AsSpan(_given, read).CopyTo(buffer);
            _given += read;
            return read;
        }
    }
}
