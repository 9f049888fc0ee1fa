using System.Buffers.Binary;
using static MeshTrace.Captures.Files.BtSnoopFormat;

namespace MeshTrace.Captures.Files;

/// <summary>Writes a BTSnoop file. The same calls give the same octets.</summary>
public sealed class BtSnoopWriter : IDisposable
{
    private readonly Stream _stream;
    private readonly bool _leaveOpen;
    private readonly byte[] _header = new byte[RecordHeaderLength];

    /// <summary>Writes the file header.</summary>
    /// <param name="stream">Written from where it stands; disposed with the writer unless <paramref name="leaveOpen"/> is set.</param>
    /// <param name="datalink">1001 HCI, 1002 HCI UART (H4), 2001 host monitor; others are written too, though not read.</param>
    /// <param name="leaveOpen">True if the stream is still needed afterwards.</param>
    public BtSnoopWriter(Stream stream, int datalink, bool leaveOpen = false)
    {
        ArgumentNullException.ThrowIfNull(stream);
        ArgumentOutOfRangeException.ThrowIfNegative(datalink);
        _stream = stream;
        _leaveOpen = leaveOpen;
        Span<byte> header = _header.AsSpan(0, FileHeaderLength);
        Magic.CopyTo(header);
        BinaryPrimitives.WriteUInt32BigEndian(header[8..], SupportedVersion);
        BinaryPrimitives.WriteUInt32BigEndian(header[12..], (uint)datalink);
        stream.Write(header);
    }

    /// <summary>Writes one packet.</summary>
    /// <param name="timeNs">Nanoseconds since 1970-01-01 UTC, cut to microseconds.</param>
    /// <param name="flags">Record flags: bit 0 received, bit 1 command or event; with datalink 2001 adapter number &lt;&lt; 16 |
    /// opcode.</param>
    /// <param name="octets">The captured octets, at most 262144.</param>
    /// <param name="originalLength">Octets that the packet had, if more than were captured.</param>
    /// <param name="cumulativeDrops">Packets that the recorder has lost since it began.</param>
    public void Write(long timeNs, uint flags, ReadOnlySpan<byte> octets, int? originalLength = null, uint cumulativeDrops = 0)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(octets.Length, CaptureLimits.LongestUsualFrame, nameof(octets));
        int original = originalLength ?? octets.Length;
        ArgumentOutOfRangeException.ThrowIfLessThan(original, octets.Length, nameof(originalLength));

        long microseconds = timeNs / 1000;
        if (timeNs % 1000 < 0)
            microseconds--;     // cut towards the past before 1970 too
        BinaryPrimitives.WriteUInt32BigEndian(_header, (uint)original);
        BinaryPrimitives.WriteUInt32BigEndian(_header.AsSpan(4), (uint)octets.Length);
        BinaryPrimitives.WriteUInt32BigEndian(_header.AsSpan(8), flags);
        BinaryPrimitives.WriteUInt32BigEndian(_header.AsSpan(12), cumulativeDrops);
        BinaryPrimitives.WriteInt64BigEndian(_header.AsSpan(16), microseconds + UnixEpoch);
        _stream.Write(_header);
        _stream.Write(octets);
    }

    /// <summary>Flushes, and disposes the stream unless it is to be left open.</summary>
    public void Dispose()
    {
        if (_leaveOpen)
            _stream.Flush();
        else
            _stream.Dispose();
    }
}
