using System.Globalization;

namespace MeshTrace.Protocol.Link;

/// <summary>
/// A link-layer header type by its number in the public link-layer header type registry; numbers above 65535 are ours, for what BTSnoop
/// files hold and the registry has no number for.
/// </summary>
public readonly record struct LinkType(int Number)
{
    /// <summary>Ethernet: frames of another link type may be carried inside UDP.</summary>
    public static readonly LinkType Ethernet = new(1);

    /// <summary>Bluetooth HCI, UART transport (H4), without direction.</summary>
    public static readonly LinkType HciH4 = new(187);

    /// <summary>Bluetooth HCI, UART transport (H4), with a direction word.</summary>
    public static readonly LinkType HciH4WithDirection = new(201);

    /// <summary>Bluetooth Low Energy link layer.</summary>
    public static readonly LinkType LeLinkLayer = new(251);

    /// <summary>Bluetooth host monitor.</summary>
    public static readonly LinkType HostMonitor = new(254);

    /// <summary>Bluetooth Low Energy link layer with a radio header.</summary>
    public static readonly LinkType LeLinkLayerWithRadioHeader = new(256);

    /// <summary>Bluetooth Low Energy link layer with a board header.</summary>
    public static readonly LinkType LeLinkLayerWithBoardHeader = new(272);

    /// <summary>HCI packets without an indicator octet (BTSnoop datalink 1001): <see cref="CapturedFrame.Hci"/> tells the kind.</summary>
    public static readonly LinkType HciUnframed = new(0x10000 + 1001);

    /// <summary>Host monitor packets of BTSnoop datalink 2001: the opcode is in <see cref="CapturedFrame.Hci"/>, the octets are the payload alone.</summary>
    public static readonly LinkType HostMonitorUnframed = new(0x10000 + 2001);

    /// <summary>Lines of a text log: see <see cref="LogLine"/>. Shown as 0.</summary>
    public static readonly LinkType TextLog = new(0x10000);

    /// <summary>True for what a host's controller reported: no channel, no CRC, and repetitions may be left out.</summary>
    public bool IsHostLog => this == HciH4 || this == HciH4WithDirection || this == HostMonitor || this == HciUnframed || this == HostMonitorUnframed;

    /// <summary>The number to show: of the registry, or of the BTSnoop datalink.</summary>
    public int ShownNumber => Number > 0xFFFF ? Number - 0x10000 : Number;

    /// <inheritdoc />
    public override string ToString() => ShownNumber.ToString(CultureInfo.InvariantCulture);
}
