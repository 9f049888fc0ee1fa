namespace MeshTrace.Protocol.Link;

/// <summary>What a packet tells of a connection.</summary>
public enum ConnectionPacketKind : byte
{
    /// <summary>Nothing.</summary>
    None,

    /// <summary>CONNECT_IND or AUX_CONNECT_REQ: the advertising PDU.</summary>
    ConnectInd,

    /// <summary>A data channel PDU from the air.</summary>
    DataChannel,

    /// <summary>ACL data of a host log.</summary>
    Acl,

    /// <summary>An HCI event, from the event code on.</summary>
    Event,
}

/// <summary>Which of the two sides of a connection sent a packet.</summary>
public enum PacketSide : byte
{
    /// <summary>The capture does not tell.</summary>
    Unknown,

    /// <summary>The central, or the host whose log it is.</summary>
    First,

    /// <summary>The peripheral, or the device at the other end of a host log.</summary>
    Second,
}

/// <summary>A packet of a connection, or an event about one. A view: valid as long as the frame it was read from.</summary>
public readonly ref struct ConnectionPacket
{
    public ConnectionPacketKind Kind { get; init; }

    /// <summary>Who sent it, as far as the capture tells.</summary>
    public PacketSide Side { get; init; }

    /// <summary>Of data channel PDUs: what the connection is known by on the air.</summary>
    public uint AccessAddress { get; init; }

    /// <summary>Of data channel PDUs: by the receiver's word, or <see cref="CrcCheck.Unknown"/> where only CRCInit of the connection can tell.</summary>
    public CrcCheck Crc { get; init; }

    /// <summary>Of data channel PDUs that are whole: the three octets behind the PDU, first octet lowest.</summary>
    public uint CrcOctets { get; init; }

    /// <summary>Octets are missing, or the fields contradict each other.</summary>
    public LinkProblem Problem { get; init; }

    /// <summary>The receiver has undone the encryption of the link layer.</summary>
    public bool IsDecrypted { get; init; }

    /// <summary>The PDU, the ACL packet, or the event.</summary>
    public ReadOnlySpan<byte> Octets { get; init; }
}
