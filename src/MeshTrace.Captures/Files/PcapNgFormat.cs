using System.Buffers.Binary;
using System.Text;

namespace MeshTrace.Captures.Files;

/// <summary>Numbers of the pcapng format, shared by its reader and its writer.</summary>
/// <remarks>PCAP Next Generation Capture File Format (internet draft), section 4 (blocks) and 3.5 (options).</remarks>
internal static class PcapNgFormat
{
    public const uint SectionHeaderBlock = 0x0A0D0D0A;      // reads the same in both byte orders
    public const uint InterfaceDescriptionBlock = 1;
    public const uint ObsoletePacketBlock = 2;
    public const uint SimplePacketBlock = 3;
    public const uint InterfaceStatisticsBlock = 5;
    public const uint EnhancedPacketBlock = 6;

    public const uint ByteOrderMagic = 0x1A2B3C4D;

    /// <summary>Block type(32) | Total length(32) … Total length(32).</summary>
    public const int BlockHeaderLength = 8, BlockTrailerLength = 4, BlockFrameLength = BlockHeaderLength + BlockTrailerLength;

    /// <summary>Section header: block header, Magic(32), Major(16), Minor(16), Section length(64).</summary>
    public const int SectionHeaderLength = BlockHeaderLength + 16;

    /// <summary>Interface description: block header, LinkType(16), Reserved(16), SnapLen(32).</summary>
    public const int InterfaceHeaderLength = BlockHeaderLength + 8;

    /// <summary>Enhanced packet: block header, Interface(32), Time high(32), Time low(32), Captured(32), Original(32). The obsolete block
    /// has the same length: its first field is split in Interface(16), Drops(16).</summary>
    public const int PacketHeaderLength = BlockHeaderLength + 20;

    /// <summary>Simple packet: block header, Original(32).</summary>
    public const int SimpleHeaderLength = BlockHeaderLength + 4;

    /// <summary>Interface statistics: block header, Interface(32), Time high(32), Time low(32).</summary>
    public const int StatisticsHeaderLength = BlockHeaderLength + 12;

    public const ushort EndOfOptions = 0;
    public const ushort SectionApplication = 4;
    public const ushort InterfaceName = 2, InterfaceDescription = 3, TimeResolution = 9, TimeOffset = 14;
    public const ushort PacketFlags = 2, PacketDropCount = 4;
    public const ushort StatisticsReceived = 4, StatisticsDropped = 5;

    /// <summary>In the flags of a packet: received with a CRC error.</summary>
    public const uint CrcErrorFlag = 1u << 24;

    /// <summary>In the obsolete packet block: number of dropped packets not known.</summary>
    public const ushort DropsUnknown = 0xFFFF;

    public static int Padded(int length) => (length + 3) & ~3;
}

/// <summary>Walks over the options of a block: Code(16) | Length(16) | value, padded to 32 bits. A list that contradicts itself ends
/// there.</summary>
internal ref struct PcapNgOptions(ReadOnlySpan<byte> options, bool bigEndian)
{
    private ReadOnlySpan<byte> _rest = options;

    public ushort Code { get; private set; }

    public ReadOnlySpan<byte> Value { get; private set; }

    public bool MoveNext()
    {
        if (_rest.Length < 4)
            return false;
        Code = Read16(_rest);
        int length = Read16(_rest[2..]);
        if (Code == PcapNgFormat.EndOfOptions || length > _rest.Length - 4)
            return false;
        Value = _rest.Slice(4, length);
        _rest = _rest[Math.Min(_rest.Length, 4 + PcapNgFormat.Padded(length))..];
        return true;
    }

    /// <summary>The value as a number, or null if it has not that length.</summary>
    public readonly uint? As32() => Value.Length != 4 ? null
        : bigEndian ? BinaryPrimitives.ReadUInt32BigEndian(Value) : BinaryPrimitives.ReadUInt32LittleEndian(Value);

    /// <inheritdoc cref="As32" />
    public readonly ulong? As64() => Value.Length != 8 ? null
        : bigEndian ? BinaryPrimitives.ReadUInt64BigEndian(Value) : BinaryPrimitives.ReadUInt64LittleEndian(Value);

    /// <summary>The value as text; what is no UTF-8 is replaced, a zero octet ends it.</summary>
    public readonly string? AsText()
    {
        int end = Value.IndexOf((byte)0);
        ReadOnlySpan<byte> text = end < 0 ? Value : Value[..end];
        return text.IsEmpty ? null : Encoding.UTF8.GetString(text[..Math.Min(text.Length, CaptureLimits.LongestName)]);
    }

    private readonly ushort Read16(ReadOnlySpan<byte> octets) =>
        bigEndian ? BinaryPrimitives.ReadUInt16BigEndian(octets) : BinaryPrimitives.ReadUInt16LittleEndian(octets);
}
