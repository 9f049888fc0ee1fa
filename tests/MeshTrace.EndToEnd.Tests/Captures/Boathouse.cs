namespace MeshTrace.EndToEnd.Tests.Captures;

/// <summary>A boathouse of two nodes: a door panel that switches a jetty lamp on, and the lamp's answer. Ten frames or so.</summary>
internal static class Boathouse
{
    public const string NetKeyHex = "0123456789abcdef0123456789abcdef", AppKeyHex = "00112233445566778899aabbccddeeff";
    public const ushort Panel = 0x0003, Lamp = 0x0005;
    public const uint IvIndex = 7;

    public static readonly byte[] NetKey = Convert.FromHexString(NetKeyHex), AppKey = Convert.FromHexString(AppKeyHex);

    /// <summary>Options that open everything.</summary>
    public static readonly string[] Keys = ["--net-key", "0=" + NetKeyHex, "--app-key", "0=" + AppKeyHex];

    public static byte[] Capture() => Capture(NetKey);

    /// <summary>The same story under any network key.</summary>
    public static byte[] Capture(byte[] netKey)
    {
        using var air = new Air();
        Story(air, netKey);
        return air.ToArray();
    }

    public static void Story(Air air, byte[] netKey)
    {
        // Generic OnOff Set: opcode 0x8202, OnOff, TID; Generic OnOff Status: opcode 0x8204, PresentOnOff (Mesh Model 1.1 §3.2.1).
        air.Beacon(netKey, IvIndex)
            .Access(netKey, AppKey, IvIndex, Panel, Lamp, seq: 100, ttl: 4, [0x82, 0x02, 0x01, 0x2A])
            .Access(netKey, AppKey, IvIndex, Lamp, Panel, seq: 900, ttl: 4, [0x82, 0x04, 0x01])
            .Wait(10)
            .Access(netKey, AppKey, IvIndex, Panel, Lamp, seq: 101, ttl: 4, [0x82, 0x02, 0x00, 0x2B])
            .Access(netKey, AppKey, IvIndex, Lamp, Panel, seq: 901, ttl: 4, [0x82, 0x04, 0x00]);
    }
}
