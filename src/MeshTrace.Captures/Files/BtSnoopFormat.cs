namespace MeshTrace.Captures.Files;

/// <summary>Numbers of the BTSnoop format, shared by its reader and its writer.</summary>
/// <remarks>
/// All big-endian. File header: "btsnoop" and a zero octet (64) | Version(32)=1 | Datalink(32).
/// Record: Original(32) | Included(32) | Flags(32) | Cumulative drops(32) | Time(64, signed) | octets, no padding.
/// No standard body publishes the format; the layout is the commonly described one, and datalink 2001 is common practice.
/// </remarks>
internal static class BtSnoopFormat
{
    public const int FileHeaderLength = 16, RecordHeaderLength = 24;
    public const uint SupportedVersion = 1;

    /// <summary>HCI packets without indicator octet; the record flags tell the kind.</summary>
    public const uint HciUnframed = 1001;

    /// <summary>HCI UART packets (H4), indicator octet first.</summary>
    public const uint HciH4 = 1002;

    /// <summary>Host monitor: adapter and opcode in the record flags.</summary>
    public const uint HostMonitor = 2001;

    /// <summary>Time of 1970-01-01 UTC on the clock of the format (microseconds).</summary>
    public const long UnixEpoch = 0x00DCDDB30F2F8000;

    /// <summary>Record flag: received by the host (clear: sent).</summary>
    public const uint ReceivedFlag = 1;

    /// <summary>Record flag: command or event (clear: data).</summary>
    public const uint ControlFlag = 2;

    /// <summary>Adapter number of monitor records that belong to no adapter.</summary>
    public const int NoAdapter = 0xFFFF;

    public static ReadOnlySpan<byte> Magic => "btsnoop\0"u8;
}
