using System.Buffers.Binary;

namespace MeshTrace.Protocol.Link;

/// <summary>Advertising physical channel PDU (Bluetooth Core Specification, volume 6 part B §2.3), dewhitened, without the CRC.</summary>
/// <remarks>
/// Header, low octet first: PDU Type(4) | RFU(1) | ChSel(1) | TxAdd(1) | RxAdd(1) | Length(8). Payload by type: AdvA(6) AdvData(0-31);
/// AdvA(6) TargetA(6); ScanA(6) AdvA(6); InitA(6) AdvA(6) LLData(22); or the common extended advertising payload.
/// </remarks>
public readonly ref struct AdvertisingPdu
{
    public const int HeaderLength = 2;
    public const int AddressLength = 6;

    /// <summary>Longest AdvData of a legacy PDU.</summary>
    public const int LongestLegacyAdvData = 31;

    private const int LlDataLength = 22;
    private readonly ReadOnlySpan<byte> _pdu;

    private AdvertisingPdu(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    public AdvertisingPduType PduType => (AdvertisingPduType)(_pdu[0] & 0x0F);
    public bool ChSel => (_pdu[0] & 0x20) != 0;

    /// <summary>The address of the sender (AdvA, ScanA or InitA) is random.</summary>
    public bool TxAdd => (_pdu[0] & 0x40) != 0;

    /// <summary>The address of the one spoken to (TargetA or AdvA) is random.</summary>
    public bool RxAdd => (_pdu[0] & 0x80) != 0;

    public byte Length => _pdu[1];

    public ReadOnlySpan<byte> Payload => _pdu[HeaderLength..];

    /// <summary>True for the types whose payload begins with AdvA.</summary>
    public bool BeginsWithAdvA => BeginsWithAdvertiser(PduType);

    /// <summary>The first address of a legacy payload: AdvA, ScanA or InitA. 0 for extended PDUs, whose header holds it.</summary>
    public ulong SenderAddress => IsLegacy(PduType) ? ReadAddress(Payload) : 0;

    /// <summary>The second address: TargetA of ADV_DIRECT_IND, AdvA of SCAN_REQ and CONNECT_IND; else 0.</summary>
    public ulong TargetAddress => HasTarget(PduType) ? ReadAddress(Payload[AddressLength..]) : 0;

    /// <summary>AdvData or ScanRspData of a legacy PDU, else empty.</summary>
    public ReadOnlySpan<byte> AdvData => CarriesData(PduType) ? Payload[AddressLength..] : default;

    /// <summary>LLData of CONNECT_IND (access address, CRCInit, channel map and so on), else empty.</summary>
    public ReadOnlySpan<byte> LlData => PduType == AdvertisingPduType.ConnectInd ? Payload[(2 * AddressLength)..] : default;

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    /// <param name="octets">Exactly the PDU: header and the octets Length tells.</param>
    public static bool TryRead(ReadOnlySpan<byte> octets, out AdvertisingPdu pdu, out DecodeProblem problem)
    {
        pdu = default;
        problem = DecodeProblem.None;
        if (octets.Length < HeaderLength)
            problem = DecodeProblem.TooShort(Layer.Link, HeaderLength, octets.Length);
        else if (octets.Length != HeaderLength + octets[1])
            problem = DecodeProblem.WrongLength(Layer.Link, HeaderLength + octets[1], octets.Length);
        else if (!LengthFits((AdvertisingPduType)(octets[0] & 0x0F), octets[1]))
            problem = DecodeProblem.WrongValue(Layer.Link, 1, nameof(Length), octets[1]);
        else
            pdu = new AdvertisingPdu(octets);
        return !problem.IsProblem;
    }

    /// <summary>Writes header and payload and returns the octets written.</summary>
    public static int Write(
        Span<byte> destination, AdvertisingPduType type, bool chSel, bool txAdd, bool rxAdd, ReadOnlySpan<byte> payload)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(payload.Length, 255, nameof(payload));
        destination[0] = (byte)(((int)type & 0x0F) | (chSel ? 0x20 : 0) | (txAdd ? 0x40 : 0) | (rxAdd ? 0x80 : 0));
        destination[1] = (byte)payload.Length;
        payload.CopyTo(destination[HeaderLength..]);
        return HeaderLength + payload.Length;
    }

    /// <summary>Writes a PDU of AdvA and AdvData and returns the octets written.</summary>
    public static int Write(Span<byte> destination, AdvertisingPduType type, ulong advertiser, bool random, ReadOnlySpan<byte> advData)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(advData.Length, LongestLegacyAdvData, nameof(advData));
        destination[0] = (byte)(((int)type & 0x0F) | (random ? 0x40 : 0));
        destination[1] = (byte)(AddressLength + advData.Length);
        WriteAddress(destination[HeaderLength..], advertiser);
        advData.CopyTo(destination[(HeaderLength + AddressLength)..]);
        return HeaderLength + AddressLength + advData.Length;
    }

    /// <summary>A device address as it goes over the air, low octet first.</summary>
    public static ulong ReadAddress(ReadOnlySpan<byte> octets) =>
        BinaryPrimitives.ReadUInt32LittleEndian(octets) | ((ulong)BinaryPrimitives.ReadUInt16LittleEndian(octets[4..]) << 32);

    /// <summary>The reverse of <see cref="ReadAddress"/>.</summary>
    public static void WriteAddress(Span<byte> destination, ulong address)
    {
        BinaryPrimitives.WriteUInt32LittleEndian(destination, (uint)(address & 0xFFFFFFFF));
        BinaryPrimitives.WriteUInt16LittleEndian(destination[4..], (ushort)((address >> 32) & 0xFFFF));
    }

    internal static bool CarriesData(AdvertisingPduType type) =>
        type is AdvertisingPduType.AdvNonconnInd or AdvertisingPduType.AdvInd or AdvertisingPduType.ScanRsp or AdvertisingPduType.AdvScanInd;

    internal static bool BeginsWithAdvertiser(AdvertisingPduType type) => CarriesData(type) || type == AdvertisingPduType.AdvDirectInd;

    private static bool HasTarget(AdvertisingPduType type) =>
        type is AdvertisingPduType.AdvDirectInd or AdvertisingPduType.ScanReq or AdvertisingPduType.ConnectInd;

    private static bool IsLegacy(AdvertisingPduType type) => type <= AdvertisingPduType.AdvScanInd;

    internal static bool LengthFits(AdvertisingPduType type, int length) => type switch
    {
        AdvertisingPduType.AdvDirectInd or AdvertisingPduType.ScanReq => length == 2 * AddressLength,
        AdvertisingPduType.ConnectInd => length == 2 * AddressLength + LlDataLength,
        <= AdvertisingPduType.AdvScanInd => length is >= AddressLength and <= AddressLength + LongestLegacyAdvData,
        AdvertisingPduType.AdvExtInd or AdvertisingPduType.AuxConnectRsp => length >= 1,
        _ => true,   // reserved: nothing is known of its payload
    };
}
