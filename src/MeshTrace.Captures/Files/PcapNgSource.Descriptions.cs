using MeshTrace.Protocol.Link;
using static MeshTrace.Captures.Files.PcapNgFormat;

namespace MeshTrace.Captures.Files;

/// <content>Blocks that describe: section header, interface description, interface statistics.</content>
internal sealed partial class PcapNgSource
{
    private bool TryEnterSection()
    {
        long offset = Input.Position;
        if (!Input.Fill(SectionHeaderLength))
            return Cut(offset, "a section header", SectionHeaderLength, Input.Available.Length);
        ReadOnlySpan<byte> header = Input.Available;
        if (!TryReadByteOrder(header, out bool bigEndian))
            return Stop(offset, "a section header without the byte-order magic 1A2B3C4D");
        uint length = Read32(header[4..], bigEndian);
        if (!IsBlockLength(offset, length, SectionHeaderLength + BlockTrailerLength))
            return false;
        if (!IsKnownVersion(header, bigEndian, out int major, out int minor))
            return Stop(offset, FormattableString.Invariant($"a section of version {major}.{minor}; 1.0 is read"));

        _bigEndian = bigEndian;
        if (offset > _section.Offset)   // the first one is entered on opening
        {
            _section = new PcapNgSection(offset, bigEndian);
            _sections.Add(_section);
        }

        return TrySkipToEnd(offset, length);
    }

    private bool TryDescribeInterface()
    {
        if (!TryReadBlock("an interface description", InterfaceHeaderLength, out long offset, out ReadOnlySpan<byte> block))
            return false;
        if (ReceiverCount >= CaptureLimits.MostReceivers)
            return Stop(offset, FormattableString.Invariant($"more than {CaptureLimits.MostReceivers} interfaces: they are not read"));

        string? name = null, description = null;
        byte resolution = 6;    // microseconds where the option is absent
        long offsetSeconds = 0;
        var options = new PcapNgOptions(block[InterfaceHeaderLength..^BlockTrailerLength], _bigEndian);
        while (options.MoveNext())
        {
            switch (options.Code)
            {
                case InterfaceName:
                    name = options.AsText();
                    break;
                case InterfaceDescription:
                    description = options.AsText();
                    break;
                case TimeResolution when options.Value.Length == 1:
                    resolution = options.Value[0];
                    break;
                case TimeOffset when options.As64() is { } seconds:
                    offsetSeconds = unchecked((long)seconds);
                    break;
            }
        }

        var linkType = new LinkType(Read16(block[8..], _bigEndian));
        uint snapLen = Read32(block[12..], _bigEndian);
        _section.Add(new PcapNgInterface(AddReceiver(name ?? description, linkType, resolution <= 9 ? resolution : 9), snapLen, new TimeScale(resolution, offsetSeconds)));
        Input.Advance(block.Length);
        return true;
    }

    private bool TryReadStatistics()
    {
        if (!TryReadBlock("interface statistics", StatisticsHeaderLength, out long offset, out ReadOnlySpan<byte> block))
            return false;
        uint id = Read32(block[8..], _bigEndian);
        if (id >= (uint)_section.Count)
            return StopAtInterface(offset, id);
        var options = new PcapNgOptions(block[StatisticsHeaderLength..^BlockTrailerLength], _bigEndian);
        while (options.MoveNext())
        {
            if (options.Code == StatisticsDropped && options.As64() is { } dropped)
                _section[(int)id].SetDrops(dropped);
        }

        Input.Advance(block.Length);
        return true;
    }

    /// <summary>A whole block in the buffer, lengths checked; its octets are still to be passed over.</summary>
    private bool TryReadBlock(string what, int headerLength, out long offset, out ReadOnlySpan<byte> block)
    {
        offset = Input.Position;
        block = default;
        uint length = Read32(Input.Available[4..], _bigEndian);
        if (!IsBlockLength(offset, length, headerLength + BlockTrailerLength))
            return false;
        if (length > CaptureLimits.LongestRecord)
            return StopAtLongBlock(offset, length);
        if (!Input.Fill((int)length))
            return Cut(offset, what, length, Input.Available.Length);
        block = Input.Available[..(int)length];
        uint again = Read32(block[^BlockTrailerLength..], _bigEndian);
        return again == length || StopAtLengths(offset, length, again);
    }

    private bool StopAtLongBlock(long offset, uint length) => Stop(
        offset, FormattableString.Invariant($"a block of {length} octets is longer than any that is read ({CaptureLimits.LongestRecord})"));

    private bool StopAtInterface(long offset, uint id) => Stop(
        offset, FormattableString.Invariant($"the block belongs to interface {id}, but the section has described {_section.Count} so far"));
}
