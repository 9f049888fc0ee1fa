using System.Buffers.Binary;

namespace MeshTrace.Protocol.Link;

/// <summary>The header of link type 256 (public link-layer header type registry, number 256), little-endian.</summary>
/// <remarks>
/// RF Channel(8) | Signal Power(8, signed) | Noise Power(8, signed) | Access Address Offenses(8) | Reference Access Address(32) |
/// Flags(16).
/// </remarks>
internal readonly ref struct RadioHeader
{
    public const int Length = 10;

    public const int Dewhitened = 0x0001;
    public const int SignalPowerValid = 0x0002;
    public const int Decrypted = 0x0008;
    public const int ReferenceAccessAddressValid = 0x0010;
    public const int RfChannelAliasing = 0x0040;
    public const int PduTypeShift = 7;
    public const int CrcChecked = 0x0400;
    public const int CrcRight = 0x0800;
    public const int PhyShift = 14;

    // Values of the three bits of PDU type.
    public const int PduTypeNotTold = 0;
    public const int PduTypeAuxiliary = 1;
    public const int PduTypeDataFromCentral = 2;
    public const int PduTypeDataFromPeripheral = 3;
    public const int PduTypeBroadcastIsochronous = 6;

    /// <summary>Value of the two PHY bits for LE Coded, whose packets have a coding indicator octet before the PDU.</summary>
    public const int PhyCoded = 2;

    private readonly ReadOnlySpan<byte> _header;
    private readonly int _flags;

    public RadioHeader(ReadOnlySpan<byte> header)
    {
        _header = header[..Length];
        _flags = BinaryPrimitives.ReadUInt16LittleEndian(_header[8..]);
    }

    public byte RfChannel => _header[0];
    public bool IsRfChannelCertain => (_flags & RfChannelAliasing) == 0;

    /// <summary>Signal Power in dBm; without its flag the octet is no measurement.</summary>
    public short RssiDbm => (_flags & SignalPowerValid) != 0 ? unchecked((sbyte)_header[1]) : Advertisement.NoRssi;

    public bool IsDewhitened => (_flags & Dewhitened) != 0;
    public int PduType => (_flags >> PduTypeShift) & 7;
    public bool IsDecrypted => (_flags & Decrypted) != 0;

    /// <summary>Who sent a packet of a connection.</summary>
    public PacketSide Side => PduType switch
    {
        PduTypeDataFromCentral => PacketSide.First,
        PduTypeDataFromPeripheral => PacketSide.Second,
        _ => PacketSide.Unknown,
    };

    public bool IsCoded => _flags >> PhyShift == PhyCoded;

    /// <summary>If CrcChecked is clear, a clear CrcRight says nothing.</summary>
    public CrcCheck Crc => (_flags & CrcChecked) == 0 ? CrcCheck.Unknown : (_flags & CrcRight) != 0 ? CrcCheck.Ok : CrcCheck.Bad;

    /// <summary>The receiver listened for the advertising access address, whatever wrong bits this packet has in its own.</summary>
    public bool RefersToAdvertising =>
        (_flags & ReferenceAccessAddressValid) != 0
        && BinaryPrimitives.ReadUInt32LittleEndian(_header[4..]) == LeFrameReader.AdvertisingAccessAddress;
}
