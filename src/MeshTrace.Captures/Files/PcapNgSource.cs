using System.Buffers.Binary;
using MeshTrace.Protocol.Link;
using static MeshTrace.Captures.Files.PcapNgFormat;

namespace MeshTrace.Captures.Files;

/// <summary>Reads pcapng files: sections of both byte orders, several interfaces with their own link types and time resolutions.</summary>
/// <remarks>
/// PCAP Next Generation Capture File Format (internet draft), section 4. Each block: Type(32) | Total length(32) | body | Total length(32).
/// Unknown blocks are passed over by their length. The receivers grow as interface descriptions are met.
/// </remarks>
internal sealed partial class PcapNgSource : CaptureFileSource
{
    private readonly List<PcapNgSection> _sections = [];
    private PcapNgSection _section;
    private bool _bigEndian;

    private PcapNgSource(OctetWindow input, string file, int firstReceiver, bool bigEndian)
        : base(input, file, firstReceiver)
    {
        _section = new PcapNgSection(0, bigEndian);
        _sections.Add(_section);
        _bigEndian = bigEndian;
    }

    protected override long FirstRecord => 0;

    /// <summary>Checks the first section header; the input stays in front of it.</summary>
    /// <exception cref="CaptureFormatException">It is cut, contradicts itself, or is of another version.</exception>
    public static PcapNgSource Open(OctetWindow input, string file, int firstReceiver)
    {
        if (!input.Fill(SectionHeaderLength))
            throw CaptureRefusal.HeaderCut(file, "pcapng", SectionHeaderLength, input);
        ReadOnlySpan<byte> header = input.Available;
        if (!TryReadByteOrder(header, out bool bigEndian))
            throw CaptureRefusal.BadHeader(file, "pcapng", 8, "the byte-order magic 1A2B3C4D");
        if (!IsSectionLength(Read32(header[4..], bigEndian)))
            throw CaptureRefusal.BadHeader(file, "pcapng", 4, "a block length that is a multiple of 4 and at least 28");
        if (!IsKnownVersion(header, bigEndian, out int major, out int minor))
            throw CaptureRefusal.Version(file, "pcapng", 12, FormattableString.Invariant($"{major}.{minor}"), "1.0");
        return new PcapNgSource(input, file, firstReceiver, bigEndian);
    }

    public override bool TryReadNext(out CapturedFrame frame)
    {
        while (true)
        {
            ReadOnlySpan<byte> block = Input.Available;
            if (block.Length < BlockHeaderLength)
            {
                frame = default;
                if (!Input.Fill(BlockHeaderLength))
                    return EndOrCut("a block header", BlockHeaderLength);
                block = Input.Available;
            }

            uint type = Read32(block, _bigEndian);
            if (type == EnhancedPacketBlock || type == ObsoletePacketBlock)
                return TryReadPacket(type, out frame);
            if (type == SimplePacketBlock)
                return TryReadSimplePacket(out frame);

            frame = default;
            bool passed = type switch
            {
                SectionHeaderBlock => TryEnterSection(),
                InterfaceDescriptionBlock => TryDescribeInterface(),
                InterfaceStatisticsBlock => TryReadStatistics(),
                _ => TrySkipBlock(),
            };
            if (!passed)
                return false;
        }
    }

    protected override void ReturnToSection(long offset)
    {
        int last = _sections.Count - 1;
        while (last > 0 && _sections[last].Offset > offset)
            last--;
        _section = _sections[last];
        _bigEndian = _section.BigEndian;
    }

    protected override bool TryReadHere(out CapturedFrame frame)
    {
        frame = default;
        return Input.Fill(BlockHeaderLength)
            && Read32(Input.Available, _bigEndian) is EnhancedPacketBlock or ObsoletePacketBlock or SimplePacketBlock
            && TryReadNext(out frame);
    }

    private static uint Read32(ReadOnlySpan<byte> octets, bool bigEndian) =>
        bigEndian ? BinaryPrimitives.ReadUInt32BigEndian(octets) : BinaryPrimitives.ReadUInt32LittleEndian(octets);

    private static ushort Read16(ReadOnlySpan<byte> octets, bool bigEndian) =>
        bigEndian ? BinaryPrimitives.ReadUInt16BigEndian(octets) : BinaryPrimitives.ReadUInt16LittleEndian(octets);

    private static bool TryReadByteOrder(ReadOnlySpan<byte> section, out bool bigEndian)
    {
        uint magic = BinaryPrimitives.ReadUInt32BigEndian(section[BlockHeaderLength..]);
        bigEndian = magic == ByteOrderMagic;
        return bigEndian || magic == BinaryPrimitives.ReverseEndianness(ByteOrderMagic);
    }

    private static bool IsSectionLength(uint length) => length % 4 == 0 && length >= SectionHeaderLength + BlockTrailerLength;

    /// <summary>1.0; the draft asks readers to take 1.2 as the same.</summary>
    private static bool IsKnownVersion(ReadOnlySpan<byte> section, bool bigEndian, out int major, out int minor)
    {
        major = Read16(section[12..], bigEndian);
        minor = Read16(section[14..], bigEndian);
        return major == 1 && minor is 0 or 2;
    }

    /// <summary>A block of which only the length is of interest.</summary>
    private bool TrySkipBlock()
    {
        long offset = Input.Position;
        uint length = Read32(Input.Available[4..], _bigEndian);
        return IsBlockLength(offset, length, BlockFrameLength) && TrySkipToEnd(offset, length);
    }

    /// <summary>Passes over a block from its beginning to its end, and checks that its length stands there again.</summary>
    private bool TrySkipToEnd(long offset, uint length)
    {
        if (!Input.Skip(length - BlockTrailerLength) || !Input.Fill(BlockTrailerLength))
            return Cut(offset, "a block", length, Input.Position + Input.Available.Length - offset);
        uint again = Read32(Input.Available, _bigEndian);
        Input.Advance(BlockTrailerLength);
        return again == length || StopAtLengths(offset, length, again);
    }

    private bool IsBlockLength(long offset, uint length, int least) => (length % 4 == 0 && length >= (uint)least) || StopAtBlockLength(offset, length, least);

    private bool StopAtBlockLength(long offset, uint length, int least) => Stop(
        offset, FormattableString.Invariant($"the block length {length} is not a multiple of 4 of at least {least}: this is no block"));

    private bool StopAtLengths(long offset, uint length, uint again) => Stop(
        offset, FormattableString.Invariant($"the block begins with length {length} and ends with length {again}: they should be equal"));
}
