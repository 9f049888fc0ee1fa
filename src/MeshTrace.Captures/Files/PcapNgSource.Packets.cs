using MeshTrace.Protocol.Link;
using static MeshTrace.Captures.Files.PcapNgFormat;

namespace MeshTrace.Captures.Files;

/// <content>Blocks that carry frames: enhanced, simple and obsolete packet block.</content>
internal sealed partial class PcapNgSource
{
    private bool TryReadPacket(uint type, out CapturedFrame frame)
    {
        frame = default;
        long offset = Input.Position;
        ReadOnlySpan<byte> block = Input.Available;
        if (block.Length < PacketHeaderLength)
        {
            if (!Input.Fill(PacketHeaderLength))
                return Cut(offset, "a packet block header", PacketHeaderLength, Input.Available.Length);
            block = Input.Available;
        }

        bool bigEndian = _bigEndian;
        uint length = Read32(block[4..], bigEndian);
        if (!IsPacketLength(offset, length, PacketHeaderLength))
            return false;
        bool obsolete = type == ObsoletePacketBlock;
        ReadOnlySpan<byte> header = block[..PacketHeaderLength];
        uint id = obsolete ? Read16(header[8..], bigEndian) : Read32(header[8..], bigEndian);
        if (id >= (uint)_section.Count)
            return StopAtInterface(offset, id);
        ulong ticks = ((ulong)Read32(header[12..], bigEndian) << 32) | Read32(header[16..], bigEndian);
        uint captured = Read32(header[20..], bigEndian);
        uint original = Read32(header[24..], bigEndian);
        if (captured > length - PacketHeaderLength - BlockTrailerLength)
            return StopAtCaptured(offset, captured, length);

        bool whole = block.Length >= (int)length || Input.Fill((int)length);
        if (block.Length < (int)length)     // the buffer has moved
            block = Input.Available;
        if (whole && Read32(block[((int)length - BlockTrailerLength)..], bigEndian) is var again && again != length)
            return StopAtLengths(offset, length, again);

        PcapNgInterface from = _section[(int)id];
        bool crcBad = false;
        int optionsAt = PacketHeaderLength + Padded((int)captured), optionsEnd = (int)length - BlockTrailerLength;
        if (whole && optionsAt < optionsEnd)
            crcBad = ReadPacketOptions(block[optionsAt..optionsEnd], obsolete, from);
        if (obsolete && Read16(block[10..], bigEndian) is var drops and > 0 and not DropsUnknown)
            from.AddDrops(drops);

        frame.Receiver = from.Receiver;
        frame.LinkType = from.LinkType;
        frame.TimeNs = from.TryToNs(ticks, out long timeNs) ? timeNs : CapturedFrame.NoTime;
        frame.OriginalLength = (int)Math.Min(Math.Max(original, captured), int.MaxValue);
        frame.FileOffset = offset;
        frame.Octets = block.Slice(PacketHeaderLength, Math.Min((int)captured, block.Length - PacketHeaderLength));
        frame.MarkedCrcBad = crcBad;
        FinishPacket(offset, length, whole, block.Length);
        return true;
    }

    private bool TryReadSimplePacket(out CapturedFrame frame)
    {
        frame = default;
        long offset = Input.Position;
        if (!Input.Fill(SimpleHeaderLength))
            return Cut(offset, "a packet block header", SimpleHeaderLength, Input.Available.Length);
        uint length = Read32(Input.Available[4..], _bigEndian);
        if (!IsPacketLength(offset, length, SimpleHeaderLength))
            return false;
        if (_section.Count == 0)
            return StopAtInterface(offset, 0);

        // The block does not tell the captured length: it is the original length, cut to the snap length of interface 0.
        PcapNgInterface from = _section[0];
        uint original = Read32(Input.Available[8..], _bigEndian);
        uint captured = from.SnapLen == 0 ? original : Math.Min(original, from.SnapLen);
        if (captured > length - SimpleHeaderLength - BlockTrailerLength)
            return StopAtCaptured(offset, captured, length);

        bool whole = Input.Fill((int)length);
        ReadOnlySpan<byte> block = Input.Available;
        if (whole && Read32(block[((int)length - BlockTrailerLength)..], _bigEndian) is var again && again != length)
            return StopAtLengths(offset, length, again);

        frame = new CapturedFrame
        {
            Receiver = from.Receiver,
            LinkType = from.LinkType,
            TimeNs = CapturedFrame.NoTime,
            OriginalLength = (int)Math.Min(original, int.MaxValue),
            FileOffset = offset,
            Octets = block.Slice(SimpleHeaderLength, Math.Min((int)captured, block.Length - SimpleHeaderLength)),
        };
        FinishPacket(offset, length, whole, block.Length);
        return true;
    }

    /// <summary>Takes the number of lost frames, and tells whether the frame is marked as received with a CRC error.</summary>
    private bool ReadPacketOptions(ReadOnlySpan<byte> octets, bool obsolete, PcapNgInterface from)
    {
        bool crcBad = false;
        var options = new PcapNgOptions(octets, _bigEndian);
        while (options.MoveNext())
        {
            if (options.Code == PacketFlags && options.As32() is { } flags)
                crcBad = (flags & CrcErrorFlag) != 0;
            else if (options.Code == PacketDropCount && !obsolete && options.As64() is { } drops)
                from.AddDrops(drops);
        }

        return crcBad;
    }

    private bool IsPacketLength(long offset, uint length, int headerLength) => IsBlockLength(offset, length, headerLength + BlockTrailerLength)
        && (length <= CaptureLimits.LongestRecord || StopAtLongBlock(offset, length));

    private bool StopAtCaptured(long offset, uint captured, uint length) => Stop(
        offset, FormattableString.Invariant($"the captured length {captured} does not fit into the block of {length} octets"));

    private void FinishPacket(long offset, uint length, bool whole, int available)
    {
        if (whole)
        {
            Input.Advance((int)length);
        }
        else
        {
            Input.Advance(available);
            Cut(offset, "a packet block", length, available);
        }
    }
}
