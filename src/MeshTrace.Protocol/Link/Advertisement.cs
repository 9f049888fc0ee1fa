namespace MeshTrace.Protocol.Link;

/// <summary>
/// What one frame tells at the link layer: an advertising PDU from the air, or an advertising report of a host controller; also a packet of
/// a connection, which is only counted. A view: valid as long as the frame it was read from.
/// </summary>
/// <remarks>
/// Where <see cref="Problem"/> is not None the fields hold what could be read: after <see cref="LinkProblem.BadCrc"/> any of them may be wrong,
/// after <see cref="LinkProblem.Truncated"/> <see cref="AdvData"/> may end early.
/// </remarks>
public readonly ref struct Advertisement
{
    internal const byte NoPduType = 0xFF;
    internal const sbyte NoChannel = -1;
    internal const short NoRssi = short.MinValue;

    private readonly byte _pduType;
    private readonly sbyte _channel;
    private readonly short _rssi;

    internal Advertisement(
        byte pduType, sbyte channel, short rssiDbm, CrcCheck crc, LinkProblem problem, bool isConnection = false,
        bool hasAdvertiser = false, ulong advertiser = 0, bool random = false,
        ReadOnlySpan<byte> pdu = default, ReadOnlySpan<byte> advData = default)
    {
        _pduType = pduType;
        _channel = channel;
        _rssi = rssiDbm;
        Crc = crc;
        Problem = problem;
        IsConnection = isConnection;
        HasAdvertiser = hasAdvertiser;
        Advertiser = advertiser;
        AdvertiserIsRandom = random;
        Pdu = pdu;
        AdvData = advData;
    }

    /// <summary>
    /// Null for packets of connections and where nothing is known. HCI reports give the type of the PDU they report; extended ones
    /// <see cref="AdvertisingPduType.AdvExtInd"/>.
    /// </summary>
    public AdvertisingPduType? PduType => _pduType == NoPduType ? null : (AdvertisingPduType)_pduType;

    /// <summary>True if <see cref="Advertiser"/> holds AdvA of the device that sent this PDU. False for SCAN_REQ and CONNECT_IND, which others send to it.</summary>
    public bool HasAdvertiser { get; }

    /// <summary>Device address AdvA, 48 bits, most significant octet highest; 0 if there is none.</summary>
    public ulong Advertiser { get; }

    /// <summary>TxAdd: a random device address.</summary>
    public bool AdvertiserIsRandom { get; }

    /// <summary>Channel index 0-39 (37-39 are the primary advertising channels), or null where the capture does not tell it for certain.</summary>
    public int? Channel => _channel == NoChannel ? null : _channel;

    /// <summary>Strength of reception in dBm, or null where it was not measured.</summary>
    public int? RssiDbm => _rssi == NoRssi ? null : _rssi;

    public CrcCheck Crc { get; }

    public LinkProblem Problem { get; }

    /// <summary>A data channel PDU or HCI ACL data.</summary>
    public bool IsConnection { get; }

    /// <summary>Header and payload of the PDU as <see cref="AdvertisingPdu"/> reads it; empty for HCI reports and packets of connections.</summary>
    public ReadOnlySpan<byte> Pdu { get; }

    /// <summary>The AD structures: AdvData or ScanRspData.</summary>
    public ReadOnlySpan<byte> AdvData { get; }
}
