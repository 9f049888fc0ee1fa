namespace MeshTrace.Protocol.Link;

/// <summary>Why a frame gives no whole advertising PDU.</summary>
public enum LinkProblem : byte
{
    None,

    /// <summary>The CRC is wrong: any field may be.</summary>
    BadCrc,

    /// <summary>Octets are missing: the frame ends before its own length fields say, or the controller reports the data as not
    /// complete.</summary>
    Truncated,

    /// <summary>Its fields contradict each other or the standard.</summary>
    Malformed,

    /// <summary>The link type is none that carries Bluetooth Low Energy as read here.</summary>
    UnsupportedLinkType,

    /// <summary>Link type 272 with a header version other than 1 and 2.</summary>
    UnsupportedHeaderVersion,
}
