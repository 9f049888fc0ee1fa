using System.Buffers.Binary;

namespace MeshTrace.Protocol.Link;

/// <summary>Writes complete frames of link types 251, 256 and 272, header and CRC included: what <see cref="LinkReader"/> reads.</summary>
public static class LeLinkLayerWriter
{
    /// <summary>Octets that hold any frame written here: longest header, access address, coding indicator, longest PDU, CRC.</summary>
    public const int LongestFrame = BoardHeader.Length + 4 + 1 + AdvertisingPdu.HeaderLength + 255 + Crc24.Length;

    /// <summary>Octets in front of the access address: link type 256, and 272.</summary>
    public const int RadioHeaderLength = RadioHeader.Length, BoardHeaderLength = BoardHeader.Length;

    /// <summary>Octets of link type 272 in front of what depends on the kind of packet.</summary>
    public const int BoardFrontLength = BoardHeader.FrontLength;

    /// <summary>Says in the header of a frame of link type 256 that its packet is dewhitened; returns where its PDU begins.</summary>
    public static int MarkDewhitened(Span<byte> frame)
    {
        bool isCoded = new RadioHeader(frame).IsCoded;
        BinaryPrimitives.WriteUInt16LittleEndian(frame[8..], (ushort)(BinaryPrimitives.ReadUInt16LittleEndian(frame[8..]) | RadioHeader.Dewhitened));
        return RadioHeader.Length + 4 + (isCoded ? 1 : 0);
    }

    /// <summary>A legacy advertising PDU of AdvA and AdvData, as received on a channel; returns the octets written.</summary>
    /// <param name="type">251 (which cannot tell channel and RSSI), 256, or 272 (version 1).</param>
    /// <param name="channel">Channel index.</param>
    /// <param name="rssiDbm">Strength of reception; 272 can tell 0 to -255, 256 can tell -128 to 127.</param>
    /// <param name="corruptCrc">Writes a wrong CRC and lets the header say so.</param>
    /// <param name="packetCounter">272 only: counts the packets of the board; a jump tells of packets lost on the way to the file.</param>
    /// <param name="deltaTimeUs">272 only: microseconds since the end of the packet before.</param>
    public static int Write(
        Span<byte> destination, LinkType type, AdvertisingPduType pduType, ulong advertiser, bool random, ReadOnlySpan<byte> advData,
        int channel, int rssiDbm, bool corruptCrc = false, ushort packetCounter = 0, uint deltaTimeUs = 0)
    {
        Span<byte> pdu = stackalloc byte[AdvertisingPdu.HeaderLength + AdvertisingPdu.AddressLength + AdvertisingPdu.LongestLegacyAdvData];
        int length = AdvertisingPdu.Write(pdu, pduType, advertiser, random, advData);
        return WritePacket(
            destination, type, LeFrameReader.AdvertisingAccessAddress, pdu[..length], channel, rssiDbm, corruptCrc, packetCounter, deltaTimeUs);
    }

    /// <summary>Any packet: access address, PDU (advertising or data channel), CRC.</summary>
    /// <param name="crcInitial">Initial value of the CRC; a connection has its own.</param>
    /// <param name="side">Who sent a packet of a connection: 256 and 272 can tell it.</param>
    public static int WritePacket(
        Span<byte> destination, LinkType type, uint accessAddress, ReadOnlySpan<byte> pdu, int channel, int rssiDbm, bool corruptCrc = false,
        ushort packetCounter = 0, uint deltaTimeUs = 0, uint crcInitial = Crc24.AdvertisingInitial,
        PacketSide side = PacketSide.Unknown)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(pdu.Length, AdvertisingPdu.HeaderLength + 255, nameof(pdu));
        int packetLength = 4 + pdu.Length + Crc24.Length;
        int at = type.Number switch
        {
            251 => 0,
            256 => WriteRadioHeader(destination, accessAddress, channel, rssiDbm, corruptCrc, side),
            272 => WriteBoardHeader(destination, packetLength, channel, rssiDbm, corruptCrc, packetCounter, deltaTimeUs, side),
            _ => throw new ArgumentException($"Link type {type} is none of 251, 256 and 272.", nameof(type)),
        };
        BinaryPrimitives.WriteUInt32LittleEndian(destination[at..], accessAddress);
        pdu.CopyTo(destination[(at + 4)..]);
        uint crc = Crc24.Compute(pdu, crcInitial);
        Crc24.Write(destination[(at + 4 + pdu.Length)..], corruptCrc ? crc ^ 0x1 : crc);
        return at + packetLength;
    }

    private static int WriteRadioHeader(Span<byte> destination, uint accessAddress, int channel, int rssiDbm, bool corruptCrc, PacketSide side)
    {
        int rf = LeChannel.RfOfIndex(channel) ?? throw new ArgumentOutOfRangeException(nameof(channel));
        ArgumentOutOfRangeException.ThrowIfLessThan(rssiDbm, sbyte.MinValue);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(rssiDbm, sbyte.MaxValue);
        destination[0] = (byte)rf;
        destination[1] = unchecked((byte)(sbyte)rssiDbm);
        destination[2] = 0;   // noise power and access address offenses: not told, their flags are clear
        destination[3] = 0;
        BinaryPrimitives.WriteUInt32LittleEndian(destination[4..], accessAddress);
        int flags = RadioHeader.Dewhitened | RadioHeader.SignalPowerValid | RadioHeader.ReferenceAccessAddressValid | RadioHeader.CrcChecked
            | (corruptCrc ? 0 : RadioHeader.CrcRight)
            | (side switch { PacketSide.First => RadioHeader.PduTypeDataFromCentral, PacketSide.Second => RadioHeader.PduTypeDataFromPeripheral, _ => 0 } << RadioHeader.PduTypeShift);
        BinaryPrimitives.WriteUInt16LittleEndian(destination[8..], (ushort)flags);
        return RadioHeader.Length;
    }

    private static int WriteBoardHeader(
        Span<byte> destination, int packetLength, int channel, int rssiDbm, bool corruptCrc, ushort packetCounter, uint deltaTimeUs, PacketSide side)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThanOrEqual((uint)channel, (uint)LeChannel.Count, nameof(channel));
        ArgumentOutOfRangeException.ThrowIfGreaterThan(rssiDbm, 0);
        ArgumentOutOfRangeException.ThrowIfLessThan(rssiDbm, -255);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(packetLength, 255 - BoardHeader.PayloadHeaderLength);
        destination[0] = 0;                        // board id
        destination[1] = BoardHeader.FrontLength;  // header length, itself included
        destination[2] = (byte)(BoardHeader.PayloadHeaderLength + packetLength);
        destination[3] = 1;                        // protocol version
        BinaryPrimitives.WriteUInt16LittleEndian(destination[4..], packetCounter);
        destination[6] = BoardHeader.LePacket;
        destination[7] = BoardHeader.PayloadHeaderLength;
        destination[8] = (byte)((corruptCrc ? 0 : BoardHeader.CrcRight) | (side == PacketSide.First ? BoardHeader.FromCentral : 0));
        destination[9] = (byte)channel;
        destination[10] = (byte)-rssiDbm;
        BinaryPrimitives.WriteUInt16LittleEndian(destination[11..], 0);   // event counter: of connections
        BinaryPrimitives.WriteUInt32LittleEndian(destination[13..], deltaTimeUs);
        return BoardHeader.Length;
    }
}
