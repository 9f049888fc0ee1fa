namespace MeshTrace.Analysis.Connections;

/// <summary>Over which bearer a Network PDU was heard (Mesh Protocol 1.1 §3.3).</summary>
public enum Bearer : byte
{
    /// <summary>Advertising: everybody in reach.</summary>
    Advertising,

    /// <summary>A GATT connection, written by the proxy client: the phone's own PDU, at its original TTL.</summary>
    GattFromClient,

    /// <summary>A GATT connection, notified by the proxy server: what it passed on to the client.</summary>
    GattFromServer,

    /// <summary>A line of a text log that does not tell the bearer.</summary>
    TextLog,
}

/// <summary>Several <see cref="Bearer"/>s.</summary>
[Flags]
public enum Bearers : byte
{
    None = 0,
    Advertising = 1 << Bearer.Advertising,
    GattFromClient = 1 << Bearer.GattFromClient,
    GattFromServer = 1 << Bearer.GattFromServer,
    TextLog = 1 << Bearer.TextLog,
}
