using System.Buffers.Binary;

namespace MeshTrace.Protocol.Link;

/// <summary>The header of link type 272 (number 272 of the public link-layer header type registry), little-endian.</summary>
/// <remarks>
/// Version 1, as the registry has it: board id(8) | header length(8) | payload length(8) | protocol version(8) = 1 | packet counter(16) |
/// packet type(8). Version 2, as observed in recorded files: board id(8) | payload length(16) | protocol version(8) = 2 | packet
/// counter(16) |
/// packet type(8). Then in both, counted by payload length: payload header length(8) | flags(8) | channel index(8) | RSSI(8) |
/// event counter(16) | delta time(32), and the LE packet. Header length of version 1 is not used: the layout is fixed.
/// </remarks>
internal readonly ref struct BoardHeader
{
    /// <summary>Octets in front of those that payload length counts.</summary>
    public const int FrontLength = 7;
    public const int PayloadHeaderLength = 10;
    public const int Length = FrontLength + PayloadHeaderLength;
    public const byte LePacket = 0x06;
    public const int CrcRight = 0x01;
    public const int FromCentral = 0x02;

    private readonly ReadOnlySpan<byte> _header;

    public BoardHeader(ReadOnlySpan<byte> header) => _header = header[..Length];

    /// <summary>Protocol version, at the same place in all versions; 0 if the frame has no such octet.</summary>
    public static byte VersionOf(ReadOnlySpan<byte> frame) => frame.Length > 3 ? frame[3] : (byte)0;

    /// <summary>Packet type; versions 1 and 2.</summary>
    public static byte PacketTypeOf(ReadOnlySpan<byte> frame) => frame.Length > 6 ? frame[6] : (byte)0;

    public int PayloadLength => _header[3] == 1 ? _header[2] : BinaryPrimitives.ReadUInt16LittleEndian(_header[1..]);

    public bool HasKnownPayloadHeader => _header[7] == PayloadHeaderLength;

    /// <summary>Bit 0 of the flags is set for a right CRC and clear for a wrong one.</summary>
    public CrcCheck Crc => (_header[8] & CrcRight) != 0 ? CrcCheck.Ok : CrcCheck.Bad;

    /// <summary>Who sent a packet of a connection: bit 1 of the flags is set for the central (meaning of the bit from memory).</summary>
    public PacketSide Side => (_header[8] & FromCentral) != 0 ? PacketSide.First : PacketSide.Second;

    public sbyte Channel => _header[9] < LeChannel.Count ? (sbyte)_header[9] : Advertisement.NoChannel;

    /// <summary>The RSSI stands without its sign.</summary>
    public short RssiDbm => (short)-_header[10];
}
