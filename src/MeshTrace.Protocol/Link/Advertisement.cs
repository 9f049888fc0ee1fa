namespace MeshTrace.Protocol.Link;

/// <summary>
/// What one frame tells at the link layer: an advertising PDU from the air, or an advertising report of a host controller; also a packet of
/// a connection, which <see cref="ConnectionReader"/> reads. A view: valid as long as the frame it was read from.
/// </summary>
/// <remarks>
/// Where <see cref="Problem"/> is not None the fields hold what could be read: after <see cref="LinkProblem.BadCrc"/> any of them may be
/// wrong,
/// after <see cref="LinkProblem.Truncated"/> <see cref="AdvData"/> may end early.
/// </remarks>
public ref struct Advertisement
{
    internal const byte NoPduType = 0xFF;
    internal const sbyte NoChannel = -1;
    internal const short NoRssi = short.MinValue;

    // Not readonly, so that the readers write it in place, field by field: that is a few nanoseconds a frame faster than to make and copy
    // it.
    internal byte PduTypeOrNone;
    internal sbyte ChannelOrNone;
    internal short RssiOrNone;

    // Of packets of connections only; see ConnectionPacket.
    internal uint AccessAddress;
    internal uint CrcOctets;
    internal PacketSide Side;
    internal bool IsDecrypted;

    internal Advertisement(LinkProblem problem, bool isConnection = false)
    {
        PduTypeOrNone = NoPduType;
        ChannelOrNone = NoChannel;
        RssiOrNone = NoRssi;
        Problem = problem;
        IsConnection = isConnection;
    }

    /// <summary>
    /// Null for packets of connections and where nothing is known. HCI reports give the type of the PDU they report; extended ones
    /// <see cref="AdvertisingPduType.AdvExtInd"/>.
    /// </summary>
    public readonly AdvertisingPduType? PduType => PduTypeOrNone == NoPduType ? null : (AdvertisingPduType)PduTypeOrNone;

    /// <summary>True if <see cref="Advertiser"/> holds AdvA of the device that sent this PDU. False for SCAN_REQ and CONNECT_IND, which
    /// others send to it.</summary>
    public bool HasAdvertiser { readonly get; internal set; }

    /// <summary>Device address AdvA, 48 bits, most significant octet highest; 0 if there is none.</summary>
    public ulong Advertiser { readonly get; internal set; }

    /// <summary>TxAdd: a random device address.</summary>
    public bool AdvertiserIsRandom { readonly get; internal set; }

    /// <summary>Channel index 0-39 (37-39 are the primary advertising channels), or null where the capture does not tell it for
    /// certain.</summary>
    public readonly int? Channel => ChannelOrNone == NoChannel ? null : ChannelOrNone;

    /// <summary>Strength of reception in dBm, or null where it was not measured.</summary>
    public readonly int? RssiDbm => RssiOrNone == NoRssi ? null : RssiOrNone;

    public CrcCheck Crc { readonly get; internal set; }

    public LinkProblem Problem { readonly get; internal set; }

    /// <summary>A data channel PDU or HCI ACL data.</summary>
    public bool IsConnection { readonly get; internal set; }

    /// <summary>A packet of a connection, or a request for one: <see cref="ConnectionReader"/> reads it.</summary>
    public readonly bool TellsOfConnection => IsConnection || PduTypeOrNone == (byte)AdvertisingPduType.ConnectInd;

    /// <summary>Header and payload of the PDU as <see cref="AdvertisingPdu"/> reads it; the data channel PDU of a
    /// connection; empty for HCI reports and ACL data.</summary>
    public ReadOnlySpan<byte> Pdu { readonly get; internal set; }

    /// <summary>The AD structures: AdvData or ScanRspData.</summary>
    public ReadOnlySpan<byte> AdvData { readonly get; internal set; }
}
