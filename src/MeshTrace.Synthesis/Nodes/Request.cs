using System.Buffers.Binary;
using System.Globalization;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>The family of a request: which models, which messages.</summary>
internal enum RequestKind : byte
{
    OnOff,
    Level,
    LevelBy,
    Lightness,
    Scene,
}

/// <summary>What a press asks for, in plain words and as octets (Mesh Model 1.1 §3.2.1, §3.2.2, §5.2.2, §6.3.1).</summary>
internal readonly record struct Request(RequestKind Kind, int Value)
{
    internal ushort ServerModel => Kind switch
    {
        RequestKind.OnOff => 0x1000,
        RequestKind.Level or RequestKind.LevelBy => 0x1002,
        RequestKind.Lightness => 0x1300,
        _ => 0x1203,
    };

    internal ushort ClientModel => Kind switch
    {
        RequestKind.OnOff => 0x1001,
        RequestKind.Level or RequestKind.LevelBy => 0x1003,
        RequestKind.Lightness => 0x1302,
        _ => 0x1205,
    };

    /// <summary>What a server model's state is set by, or null for a model that has no state here.</summary>
    internal static RequestKind? KindOf(uint serverModel) => serverModel switch
    {
        0x1000 => RequestKind.OnOff,
        0x1002 => RequestKind.Level,
        0x1300 => RequestKind.Lightness,
        0x1203 => RequestKind.Scene,
        _ => null,
    };

    internal ushort Opcode(bool acknowledged) => (Kind, acknowledged) switch
    {
        (RequestKind.OnOff, true) => 0x8202,
        (RequestKind.OnOff, false) => 0x8203,
        (RequestKind.Level, true) => 0x8206,
        (RequestKind.Level, false) => 0x8207,
        (RequestKind.LevelBy, true) => 0x8209,
        (RequestKind.LevelBy, false) => 0x820A,
        (RequestKind.Lightness, true) => 0x824C,
        (RequestKind.Lightness, false) => 0x824D,
        (_, true) => 0x8242,
        (_, false) => 0x8243,
    };

    internal string MessageName(bool acknowledged) => Kind switch
    {
        RequestKind.OnOff => "Generic OnOff Set",
        RequestKind.Level => "Generic Level Set",
        RequestKind.LevelBy => "Generic Delta Set",
        RequestKind.Lightness => "Light Lightness Set",
        _ => "Scene Recall",
    } + (acknowledged ? "" : " Unacknowledged");

    internal string StatusName => Kind switch
    {
        RequestKind.OnOff => "Generic OnOff Status",
        RequestKind.Level or RequestKind.LevelBy => "Generic Level Status",
        RequestKind.Lightness => "Light Lightness Status",
        _ => "Scene Status",
    };

    /// <summary>Words that the scenario reader has already accepted.</summary>
    internal static Request Of(string asks) => TryParse(asks, out var request) ? request : throw new ArgumentException(asks, nameof(asks));

    /// <summary>Reads "on", "off", "level N", "level by N", "lightness N", "scene N".</summary>
    internal static bool TryParse(string asks, out Request request)
    {
        request = default;
        if (asks is "on" or "off")
        {
            request = new Request(RequestKind.OnOff, asks == "on" ? 1 : 0);
            return true;
        }
        foreach (var (words, kind, least, most) in (ReadOnlySpan<(string, RequestKind, int, int)>)
            [
                ("level by ", RequestKind.LevelBy, -65535, 65535), ("level ", RequestKind.Level, -32768, 32767),
                ("lightness ", RequestKind.Lightness, 0, 65535), ("scene ", RequestKind.Scene, 1, 65535),
            ])
        {
            if (asks.StartsWith(words, StringComparison.Ordinal))
            {
                bool good = int.TryParse(asks.AsSpan(words.Length), NumberStyles.AllowLeadingSign, CultureInfo.InvariantCulture,
                    out int value) && value >= least && value <= most;
                request = new Request(kind, value);
                return good;
            }
        }
        return false;
    }

    /// <summary>The access payload. With a transition both Transition Time (here in steps of 100 ms or 1 s) and Delay (0) stand.</summary>
    internal byte[] Write(bool acknowledged, byte tid, int? transitionMs)
    {
        Span<byte> payload = stackalloc byte[11];
        BinaryPrimitives.WriteUInt16BigEndian(payload, Opcode(acknowledged));
        int at = 2;
        switch (Kind)
        {
            case RequestKind.OnOff:
                payload[at++] = (byte)Value;
                break;
            case RequestKind.LevelBy:
                BinaryPrimitives.WriteInt32LittleEndian(payload[at..], Value);
                at += 4;
                break;
            default:
                BinaryPrimitives.WriteUInt16LittleEndian(payload[at..], (ushort)(Value & 0xFFFF));
                at += 2;
                break;
        }
        payload[at++] = tid;
        if (transitionMs is { } ms)
        {
            payload[at++] = TransitionTime(ms);
            payload[at++] = 0;
        }
        return payload[..at].ToArray();
    }

    /// <summary>The Status that tells the state after the request, for an element whose value was <paramref name="before"/>.</summary>
    internal byte[] WriteStatus(int before)
    {
        Span<byte> payload = stackalloc byte[6];
        int at = 2;
        switch (Kind)
        {
            case RequestKind.OnOff:
                BinaryPrimitives.WriteUInt16BigEndian(payload, 0x8204);
                payload[at++] = (byte)Value;
                break;
            case RequestKind.Level or RequestKind.LevelBy:
                BinaryPrimitives.WriteUInt16BigEndian(payload, 0x8208);
                BinaryPrimitives.WriteInt16LittleEndian(payload[at..], (short)After(before));
                at += 2;
                break;
            case RequestKind.Lightness:
                BinaryPrimitives.WriteUInt16BigEndian(payload, 0x824E);
                BinaryPrimitives.WriteUInt16LittleEndian(payload[at..], (ushort)Value);
                at += 2;
                break;
            default:
                payload[0] = 0x5E;
                payload[1] = 0;
                BinaryPrimitives.WriteUInt16LittleEndian(payload[2..], (ushort)Value);
                at = 4;
                break;
        }
        return payload[..at].ToArray();
    }

    /// <summary>The state's value once the request has been carried out.</summary>
    internal int After(int before) => Kind == RequestKind.LevelBy ? Math.Clamp(before + Value, short.MinValue, short.MaxValue) : Value;

    /// <summary>Transition Time (Mesh Model 1.1 §3.1.3): steps in the low 6 bits, resolution in the high 2.</summary>
    internal static byte TransitionTime(int ms) => ms switch
    {
        <= 6200 => (byte)(ms / 100),
        <= 62_000 => (byte)(0x40 | (ms / 1000)),
        <= 620_000 => (byte)(0x80 | (ms / 10_000)),
        _ => (byte)(0xC0 | (ms / 600_000)),
    };
}
