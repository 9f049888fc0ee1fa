namespace MeshTrace.Protocol.Link;

/// <summary>
/// PDU Type of an advertising physical channel PDU (Bluetooth Core Specification, volume 6 part B §2.3). Values 9-15 are reserved and stay
/// as
/// they are.
/// </summary>
public enum AdvertisingPduType : byte
{
    AdvInd = 0x0,
    AdvDirectInd = 0x1,

    /// <summary>ADV_NONCONN_IND: the one that the mesh advertising bearer uses.</summary>
    AdvNonconnInd = 0x2,

    /// <summary>SCAN_REQ, and AUX_SCAN_REQ on secondary channels.</summary>
    ScanReq = 0x3,
    ScanRsp = 0x4,

    /// <summary>CONNECT_IND, and AUX_CONNECT_REQ on secondary channels.</summary>
    ConnectInd = 0x5,
    AdvScanInd = 0x6,

    /// <summary>ADV_EXT_IND, AUX_ADV_IND, AUX_SCAN_RSP, AUX_SYNC_IND and AUX_CHAIN_IND share this value.</summary>
    AdvExtInd = 0x7,
    AuxConnectRsp = 0x8,
}

/// <summary>The standard's names of the PDU types.</summary>
public static class AdvertisingPduTypeNames
{
    /// <summary>For example <c>ADV_NONCONN_IND</c>; <c>reserved PDU type 9</c> for a value without name.</summary>
    public static string Of(AdvertisingPduType type) => type switch
    {
        AdvertisingPduType.AdvInd => "ADV_IND",
        AdvertisingPduType.AdvDirectInd => "ADV_DIRECT_IND",
        AdvertisingPduType.AdvNonconnInd => "ADV_NONCONN_IND",
        AdvertisingPduType.ScanReq => "SCAN_REQ",
        AdvertisingPduType.ScanRsp => "SCAN_RSP",
        AdvertisingPduType.ConnectInd => "CONNECT_IND",
        AdvertisingPduType.AdvScanInd => "ADV_SCAN_IND",
        AdvertisingPduType.AdvExtInd => "ADV_EXT_IND",
        AdvertisingPduType.AuxConnectRsp => "AUX_CONNECT_RSP",
        _ => $"reserved PDU type {(byte)type}",
    };
}
