namespace MeshTrace.Protocol.Link;

/// <summary>
/// The first octet of link-layer control PDUs (Bluetooth Core Specification, volume 6 part B §2.4.2): those that decide whether a connection can
/// be followed and read. Numbers from memory.
/// </summary>
public enum LinkControlOpcode : byte
{
    /// <summary>LL_CONNECTION_UPDATE_IND: WinSize(8), WinOffset(16), Interval(16), Latency(16), Timeout(16), Instant(16).</summary>
    ConnectionUpdateInd = 0x00,

    /// <summary>LL_TERMINATE_IND: ErrorCode(8).</summary>
    TerminateInd = 0x02,

    /// <summary>LL_ENC_REQ: the central asks for encryption; data stop until it has begun.</summary>
    EncReq = 0x03,

    /// <summary>LL_ENC_RSP.</summary>
    EncRsp = 0x04,

    /// <summary>LL_START_ENC_REQ: the last PDU in clear; what follows is encrypted.</summary>
    StartEncReq = 0x05,

    /// <summary>LL_REJECT_IND: ErrorCode(8).</summary>
    RejectInd = 0x0D,

    /// <summary>LL_REJECT_EXT_IND: RejectOpcode(8), ErrorCode(8).</summary>
    RejectExtInd = 0x11,
}
