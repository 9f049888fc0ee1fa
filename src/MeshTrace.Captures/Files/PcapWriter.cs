using System.Buffers.Binary;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Files;

/// <summary>Writes a pcap file: one link type, times in microseconds or nanoseconds, either byte order.</summary>
/// <remarks>PCAP Capture File Format (internet draft), sections 4 and 5. The same calls give the same octets.</remarks>
public sealed class PcapWriter : IDisposable
{
    private const long NsPerSecond = 1_000_000_000;

    private readonly Stream _stream;
    private readonly bool _leaveOpen;
    private readonly bool _bigEndian;
    private readonly int _nsPerFraction;
    private readonly byte[] _header = new byte[PcapSource.FileHeaderLength];

    /// <summary>Writes the file header.</summary>
    /// <param name="stream">Written from where it stands; disposed with the writer unless <paramref name="leaveOpen"/> is set.</param>
    /// <param name="linkType">Link type of all frames, a number of the registry (0 to 65535).</param>
    /// <param name="nanoseconds">True: times keep their nanoseconds. False: they are cut to microseconds.</param>
    /// <param name="bigEndian">Byte order of the headers.</param>
    /// <param name="snapLength">Longest captured length that the header promises, in octets.</param>
    /// <param name="leaveOpen">True if the stream is still needed afterwards.</param>
    public PcapWriter(Stream stream, LinkType linkType, bool nanoseconds = false, bool bigEndian = false,
        int snapLength = CaptureLimits.LongestUsualFrame, bool leaveOpen = false)
    {
        ArgumentNullException.ThrowIfNull(stream);
        ArgumentOutOfRangeException.ThrowIfNegative(snapLength);
        ArgumentOutOfRangeException.ThrowIfNegative(linkType.Number, nameof(linkType));
        ArgumentOutOfRangeException.ThrowIfGreaterThan(linkType.Number, ushort.MaxValue, nameof(linkType));
        _stream = stream;
        _leaveOpen = leaveOpen;
        _bigEndian = bigEndian;
        _nsPerFraction = nanoseconds ? 1 : 1000;

        Put32(0, nanoseconds ? 0xA1B23C4D : 0xA1B2C3D4);
        Put16(4, 2);
        Put16(6, 4);
        Put32(16, (uint)snapLength);
        Put32(20, (uint)linkType.Number);
        stream.Write(_header);
    }

    /// <summary>Writes one frame.</summary>
    /// <param name="timeNs">Nanoseconds since 1970-01-01 UTC; the format tells 1970 to 2106.</param>
    /// <param name="octets">The captured octets, at most 262144.</param>
    /// <param name="originalLength">Octets that the frame had, if more than were captured.</param>
    public void Write(long timeNs, ReadOnlySpan<byte> octets, int? originalLength = null)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(timeNs);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(timeNs / NsPerSecond, uint.MaxValue, nameof(timeNs));
        ArgumentOutOfRangeException.ThrowIfGreaterThan(octets.Length, CaptureLimits.LongestUsualFrame, nameof(octets));
        int original = originalLength ?? octets.Length;
        ArgumentOutOfRangeException.ThrowIfLessThan(original, octets.Length, nameof(originalLength));

        Put32(0, (uint)(timeNs / NsPerSecond));
        Put32(4, (uint)(timeNs % NsPerSecond / _nsPerFraction));
        Put32(8, (uint)octets.Length);
        Put32(12, (uint)original);
        _stream.Write(_header, 0, PcapSource.RecordHeaderLength);
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

    private void Put16(int offset, ushort value)
    {
        if (_bigEndian)
            BinaryPrimitives.WriteUInt16BigEndian(_header.AsSpan(offset), value);
        else
            BinaryPrimitives.WriteUInt16LittleEndian(_header.AsSpan(offset), value);
    }

    private void Put32(int offset, uint value)
    {
        if (_bigEndian)
            BinaryPrimitives.WriteUInt32BigEndian(_header.AsSpan(offset), value);
        else
            BinaryPrimitives.WriteUInt32LittleEndian(_header.AsSpan(offset), value);
    }
}
