using System.Buffers.Binary;
using System.Collections.Frozen;
using System.Globalization;
using MeshTrace.Protocol.Access;

namespace MeshTrace.Analysis.Presses;

/// <summary>
/// A message that asks servers to change and carries a TID, with the Status that answers it. In all of them the values asked for stand
/// before the TID (Mesh Model 1.1 §3.2, §5.2, §6.3).
/// </summary>
/// <param name="Request">Opcode of the request.</param>
/// <param name="Status">Opcode of the Status.</param>
/// <param name="ValueOctets">Octets of the values, which is where the TID stands.</param>
/// <param name="Acknowledged">True if the standard expects the Status from every server.</param>
/// <param name="Answer">Where the Status shows the values.</param>
/// <param name="Asks">How to say it.</param>
internal sealed record RequestKind(Opcode Request, Opcode Status, int ValueOctets, bool Acknowledged, AnswerShape Answer, AskWords Asks)
{
    private static readonly FrozenDictionary<uint, RequestKind> ByOpcode = Rows().ToFrozenDictionary(row => row.Request.Value);

    public static RequestKind? Find(Opcode opcode) => ByOpcode.GetValueOrDefault(opcode.Value);

    /// <summary>Opcodes of all Status messages that answer a press.</summary>
    public static FrozenSet<uint> StatusOpcodes { get; } = ByOpcode.Values.Select(row => row.Status.Value).ToFrozenSet();

    /// <summary>Reads TID and values of a request's access payload; false if it is too short.</summary>
    public bool TryRead(ReadOnlySpan<byte> payload, out ReadOnlySpan<byte> values, out byte tid)
    {
        values = default;
        tid = 0;
        int at = Request.Octets;
        if (payload.Length <= at + ValueOctets)
            return false;
        values = payload.Slice(at, ValueOctets);
        tid = payload[at + ValueOctets];
        return true;
    }

    /// <summary>True if the Status shows the values asked for, as present state or as the target of a transition.</summary>
    public bool IsAnsweredBy(ReadOnlySpan<byte> values, ReadOnlySpan<byte> statusPayload)
    {
        if (statusPayload.Length < Status.Octets + Answer.PresentAt + Answer.Octets)
            return false;
        ReadOnlySpan<byte> status = statusPayload[Status.Octets..];
        if (Answer.Octets == 0)
            return true;        // a relative change: the Status shows where it led, not what was asked
        if (Answer.HasStatusCode && status[0] != 0)
            return false;
        ReadOnlySpan<byte> asked = values[..Answer.Octets];
        return status.Slice(Answer.PresentAt, Answer.Octets).SequenceEqual(asked)
            || (Answer.TargetAt is { } at && status.Length >= at + Answer.Octets && status.Slice(at, Answer.Octets).SequenceEqual(asked));
    }

    /// <summary>What is asked, in plain words.</summary>
    public string Say(ReadOnlySpan<byte> values, string messageName) => Asks switch
    {
        AskWords.OnOff => values[0] switch { 0 => "off", 1 => "on", _ => messageName },
        AskWords.Level => string.Create(CultureInfo.InvariantCulture, $"level {BinaryPrimitives.ReadInt16LittleEndian(values)}"),
        AskWords.LevelBy => string.Create(CultureInfo.InvariantCulture, $"level by {BinaryPrimitives.ReadInt32LittleEndian(values)}"),
        AskWords.Scene => string.Create(CultureInfo.InvariantCulture, $"scene {BinaryPrimitives.ReadUInt16LittleEndian(values)}"),
        AskWords.Lightness => string.Create(CultureInfo.InvariantCulture, $"lightness {BinaryPrimitives.ReadUInt16LittleEndian(values)}"),
        _ => messageName,
    };

    private static IEnumerable<RequestKind> Rows()
    {
        AnswerShape oneOctet = new(1, 0, 1), twoOctets = new(2, 0, 2), fourOctets = new(4, 0, 4), sixOctets = new(6, 0, null);
        return
        [
            .. Pair(0x8202, 0x8203, 0x8204, 1, oneOctet, AskWords.OnOff),                       // Generic OnOff Set
            .. Pair(0x8206, 0x8207, 0x8208, 2, twoOctets, AskWords.Level),                      // Generic Level Set
            .. Pair(0x8209, 0x820A, 0x8208, 4, AnswerShape.Any, AskWords.LevelBy),              // Generic Delta Set
            .. Pair(0x820B, 0x820C, 0x8208, 2, AnswerShape.Any, AskWords.Name),                 // Generic Move Set
            .. Pair(0x8216, 0x8217, 0x8218, 2, twoOctets, AskWords.Name),                       // Generic Power Level Set
            .. Pair(0x8242, 0x8243, 0x5E, 2, new AnswerShape(2, 1, 3, HasStatusCode: true), AskWords.Scene),    // Scene Recall
            .. Pair(0x824C, 0x824D, 0x824E, 2, twoOctets, AskWords.Lightness),                  // Light Lightness Set
            .. Pair(0x8250, 0x8251, 0x8252, 2, twoOctets, AskWords.Name),                       // Light Lightness Linear Set
            .. Pair(0x825E, 0x825F, 0x8260, 6, fourOctets, AskWords.Name),                      // Light CTL Set: the Status has no delta UV
            .. Pair(0x8264, 0x8265, 0x8266, 4, fourOctets, AskWords.Name),                      // Light CTL Temperature Set
            .. Pair(0x826F, 0x8270, 0x8271, 2, twoOctets, AskWords.Name),                       // Light HSL Hue Set
            .. Pair(0x8273, 0x8274, 0x8275, 2, twoOctets, AskWords.Name),                       // Light HSL Saturation Set
            .. Pair(0x8276, 0x8277, 0x8278, 6, sixOctets, AskWords.Name),                       // Light HSL Set
            .. Pair(0x8284, 0x8285, 0x8286, 6, sixOctets, AskWords.Name),                       // Light xyL Set
            .. Pair(0x829A, 0x829B, 0x829C, 1, oneOctet, AskWords.OnOff),                       // Light LC Light OnOff Set
        ];
    }

    private static RequestKind[] Pair(uint acknowledged, uint unacknowledged, uint status, int valueOctets, AnswerShape answer, AskWords asks) =>
    [
        new(new Opcode(acknowledged), new Opcode(status), valueOctets, true, answer, asks),
        new(new Opcode(unacknowledged), new Opcode(status), valueOctets, false, answer, asks),
    ];
}

/// <summary>Where a Status shows what was asked for.</summary>
/// <param name="Octets">How many octets of the request's values it shows; 0 = none, any Status answers.</param>
/// <param name="PresentAt">Offset of the present state behind the opcode.</param>
/// <param name="TargetAt">Offset of the optional target state, or null.</param>
/// <param name="HasStatusCode">The first octet is a status code, 0 for success.</param>
internal sealed record AnswerShape(int Octets, int PresentAt, int? TargetAt, bool HasStatusCode = false)
{
    public static readonly AnswerShape Any = new(0, 0, null);
}

/// <summary>How a request is put into words.</summary>
internal enum AskWords
{
    Name,
    OnOff,
    Level,
    LevelBy,
    Scene,
    Lightness,
}
