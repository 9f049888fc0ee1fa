namespace MeshTrace.Analysis.TextLogs;

/// <summary>What a line of a text log was taken for.</summary>
public enum TextLineKind : byte
{
    /// <summary>It has no octets, or too few.</summary>
    NoOctets,

    /// <summary>Its octets fit nothing.</summary>
    Unclear,

    /// <summary>Its words say that the octets are a key: they were not looked at.</summary>
    Key,
    ProxyPdu,
    NetworkPdu,
    ProvisioningPdu,
    Beacon,
    AccessPayload,
    UpperTransportPdu,
}

/// <summary>Why.</summary>
public enum TextLineReason : byte
{
    None,

    /// <summary>The words of the line say so, and its octets fit.</summary>
    Words,

    /// <summary>The form of the octets alone.</summary>
    Form,

    /// <summary>A key opens it, or authenticates it.</summary>
    NetMic,
}

/// <summary>One line of a text log.</summary>
/// <param name="Frame">Row of its frame.</param>
/// <param name="Line">Number in its file, from 1.</param>
/// <param name="Kind">What it was taken for.</param>
/// <param name="Reason">Why.</param>
/// <param name="PayloadAt">Where its octets are kept: of access payloads only, which have no addresses and so are no messages of the history.</param>
/// <param name="PayloadLength">How many.</param>
public readonly record struct TextLineRecord(int Frame, int Line, TextLineKind Kind, TextLineReason Reason, long PayloadAt, int PayloadLength);
