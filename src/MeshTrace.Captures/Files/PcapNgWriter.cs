using System.Buffers.Binary;
using System.Text;
using MeshTrace.Protocol.Link;
using static MeshTrace.Captures.Files.PcapNgFormat;

namespace MeshTrace.Captures.Files;

/// <summary>Writes a pcapng file: several interfaces with their own names, link types and time resolutions; several sections.</summary>
/// <remarks>PCAP Next Generation Capture File Format (internet draft), section 4. The same calls give the same octets.</remarks>
public sealed class PcapNgWriter : IDisposable
{
    private readonly Stream _stream;
    private readonly bool _leaveOpen;
    private readonly string? _application;
    private readonly List<(TimeScale Time, int SnapLength)> _interfaces = [];
    private byte[] _block = new byte[512];
    private int _length;
    private bool _bigEndian;

    /// <summary>Writes the header of the first section.</summary>
    /// <param name="stream">Written from where it stands; disposed with the writer unless <paramref name="leaveOpen"/> is set.</param>
    /// <param name="bigEndian">Byte order of the first section.</param>
    /// <param name="application">What wrote the file (shb_userappl), or null.</param>
    /// <param name="leaveOpen">True if the stream is still needed afterwards.</param>
    public PcapNgWriter(Stream stream, bool bigEndian = false, string? application = null, bool leaveOpen = false)
    {
        ArgumentNullException.ThrowIfNull(stream);
        _stream = stream;
        _leaveOpen = leaveOpen;
        _application = application;
        BeginSection(bigEndian);
    }

    /// <summary>Begins another section: interfaces are to be added again and are numbered from 0.</summary>
    public void BeginSection(bool bigEndian = false)
    {
        _bigEndian = bigEndian;
        _interfaces.Clear();
        BeginBlock(SectionHeaderBlock);
        Put32(ByteOrderMagic);
        Put16(1);
        Put16(0);
        Put64(ulong.MaxValue);      // section length not told
        PutText(SectionApplication, _application);
        EndOptions(_application != null);
        EndBlock();
    }

    /// <summary>Describes an interface of the current section.</summary>
    /// <param name="linkType">A number of the registry (0 to 65535).</param>
    /// <param name="name">Its name (if_name), or null.</param>
    /// <param name="timeResolutionExponent">n of the unit of time, 10^-n or 2^-n seconds; 0 to 127. Times are cut to it.</param>
    /// <param name="binaryResolution">True: the unit is 2^-n seconds.</param>
    /// <param name="timeOffsetSeconds">Seconds that a reader has to add to each time (if_tsoffset).</param>
    /// <param name="snapLength">Longest captured length, 0 = no limit.</param>
    /// <returns>Number of the interface in the section, from 0.</returns>
    public int AddInterface(LinkType linkType, string? name, int timeResolutionExponent = 9, bool binaryResolution = false,
        long timeOffsetSeconds = 0, int snapLength = 0)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(linkType.Number, nameof(linkType));
        ArgumentOutOfRangeException.ThrowIfGreaterThan(linkType.Number, ushort.MaxValue, nameof(linkType));
        ArgumentOutOfRangeException.ThrowIfNegative(timeResolutionExponent);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(timeResolutionExponent, 127);
        ArgumentOutOfRangeException.ThrowIfNegative(snapLength);
        byte resolution = (byte)(timeResolutionExponent | (binaryResolution ? 0x80 : 0));
        _interfaces.Add((new TimeScale(resolution, timeOffsetSeconds), snapLength));

        BeginBlock(InterfaceDescriptionBlock);
        Put16((ushort)linkType.Number);
        Put16(0);
        Put32((uint)snapLength);
        PutText(InterfaceName, name);
        PutOption(TimeResolution, [resolution]);
        if (timeOffsetSeconds != 0)
        {
            Put16(TimeOffset);
            Put16(sizeof(long));
            Put64(unchecked((ulong)timeOffsetSeconds));
        }

        EndOptions(true);
        EndBlock();
        return _interfaces.Count - 1;
    }

    /// <summary>Writes one frame (enhanced packet block).</summary>
    /// <param name="interface">Number that <see cref="AddInterface"/> gave.</param>
    /// <param name="timeNs">Nanoseconds since 1970-01-01 UTC, cut to the interface's resolution.</param>
    /// <param name="octets">The captured octets, at most 262144.</param>
    /// <param name="originalLength">Octets that the frame had, if more than were captured.</param>
    /// <param name="crcError">True: marks the frame as received with a CRC error (epb_flags bit 24).</param>
    /// <param name="dropped">Frames lost since the one before (epb_dropcount), or null to tell nothing.</param>
    /// <exception cref="ArgumentOutOfRangeException">The interface is unknown, or its resolution and offset cannot tell the
    /// time.</exception>
    public void Write(int @interface, long timeNs, ReadOnlySpan<byte> octets, int? originalLength = null, bool crcError = false,
        ulong? dropped = null)
    {
        CheckInterface(@interface);
        int original = CheckLengths(octets, originalLength);
        BeginBlock(EnhancedPacketBlock);
        Put32((uint)@interface);
        PutTime(@interface, timeNs);
        Put32((uint)octets.Length);
        Put32((uint)original);
        PutPadded(octets);
        if (crcError)
        {
            Put16(PacketFlags);
            Put16(sizeof(uint));
            Put32(CrcErrorFlag);
        }

        PutNumber(PacketDropCount, dropped);
        EndOptions(crcError || dropped != null);
        EndBlock();
    }

    /// <summary>Writes one frame of interface 0 without a time (simple packet block).</summary>
    /// <param name="octets">The captured octets: all of the frame, or as many as the interface's snap length lets through.</param>
    /// <param name="originalLength">Octets that the frame had, if more than were captured.</param>
    public void WriteSimple(ReadOnlySpan<byte> octets, int? originalLength = null)
    {
        CheckInterface(0);
        int original = CheckLengths(octets, originalLength);
        int snapLength = _interfaces[0].SnapLength;
        if (octets.Length != (snapLength == 0 ? original : Math.Min(original, snapLength)))
            throw new ArgumentException("the block cannot tell another captured length than the snap length gives", nameof(octets));
        BeginBlock(SimplePacketBlock);
        Put32((uint)original);
        PutPadded(octets);
        EndBlock();
    }

    /// <summary>Writes what the recorder counted on an interface (interface statistics block).</summary>
    /// <param name="interface">Number that <see cref="AddInterface"/> gave.</param>
    /// <param name="timeNs">When it was counted, nanoseconds since 1970-01-01 UTC.</param>
    /// <param name="received">Frames received since the capture began, or null.</param>
    /// <param name="dropped">Frames lost since the capture began, or null.</param>
    public void WriteStatistics(int @interface, long timeNs, ulong? received, ulong? dropped)
    {
        CheckInterface(@interface);
        BeginBlock(InterfaceStatisticsBlock);
        Put32((uint)@interface);
        PutTime(@interface, timeNs);
        PutNumber(StatisticsReceived, received);
        PutNumber(StatisticsDropped, dropped);
        EndOptions(received != null || dropped != null);
        EndBlock();
    }

    /// <summary>Flushes, and disposes the stream unless it is to be left open.</summary>
    public void Dispose()
    {
        if (_leaveOpen)
            _stream.Flush();
        else
            _stream.Dispose();
    }

    private static int CheckLengths(ReadOnlySpan<byte> octets, int? originalLength)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(octets.Length, CaptureLimits.LongestUsualFrame, nameof(octets));
        int original = originalLength ?? octets.Length;
        ArgumentOutOfRangeException.ThrowIfLessThan(original, octets.Length, nameof(originalLength));
        return original;
    }

    private void CheckInterface(int @interface)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(@interface);
        ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual(@interface, _interfaces.Count);
    }

    private void PutTime(int @interface, long timeNs)
    {
        if (timeNs == CapturedFrame.NoTime || !_interfaces[@interface].Time.TryToTicks(timeNs, out ulong ticks))
            throw new ArgumentOutOfRangeException(nameof(timeNs), timeNs, "the interface's resolution and offset cannot tell this time");
        Put32((uint)(ticks >> 32));
        Put32((uint)(ticks & uint.MaxValue));
    }

    private void BeginBlock(uint type)
    {
        _length = 0;
        Put32(type);
        Put32(0);       // total length, known at the end
    }

    private void EndBlock()
    {
        int total = _length + BlockTrailerLength;
        Put32((uint)total);
        _length = BlockHeaderLength - sizeof(uint);
        Put32((uint)total);
        _stream.Write(_block, 0, total);
    }

    private void PutText(ushort code, string? text)
    {
        if (text != null)
            PutOption(code, Encoding.UTF8.GetBytes(text));
    }

    private void PutNumber(ushort code, ulong? value)
    {
        if (value is not { } number)
            return;
        Put16(code);
        Put16(sizeof(ulong));
        Put64(number);
    }

    private void PutOption(ushort code, ReadOnlySpan<byte> value)
    {
        Put16(code);
        Put16(checked((ushort)value.Length));
        PutPadded(value);
    }

    private void EndOptions(bool any)
    {
        if (any)
            Put32(EndOfOptions);
    }

    private void PutPadded(ReadOnlySpan<byte> octets)
    {
        Span<byte> room = Room(Padded(octets.Length));
        octets.CopyTo(room);
        room[octets.Length..].Clear();
    }

    private void Put16(ushort value)
    {
        if (_bigEndian)
            BinaryPrimitives.WriteUInt16BigEndian(Room(sizeof(ushort)), value);
        else
            BinaryPrimitives.WriteUInt16LittleEndian(Room(sizeof(ushort)), value);
    }

    private void Put32(uint value)
    {
        if (_bigEndian)
            BinaryPrimitives.WriteUInt32BigEndian(Room(sizeof(uint)), value);
        else
            BinaryPrimitives.WriteUInt32LittleEndian(Room(sizeof(uint)), value);
    }

    private void Put64(ulong value)
    {
        if (_bigEndian)
            BinaryPrimitives.WriteUInt64BigEndian(Room(sizeof(ulong)), value);
        else
            BinaryPrimitives.WriteUInt64LittleEndian(Room(sizeof(ulong)), value);
    }

    private Span<byte> Room(int count)
    {
        if (_length + count > _block.Length)
            Array.Resize(ref _block, Math.Max(_block.Length * 2, _length + count));
        _length += count;
        return _block.AsSpan(_length - count, count);
    }
}
