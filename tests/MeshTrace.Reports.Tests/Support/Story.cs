using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Link;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Tests.Support;

/// <summary>A history put together by hand: a small library, and whatever rarity a test wants to see written.</summary>
internal sealed class Story
{
    /// <summary>2026-03-02T18:00:00Z.</summary>
    public const long Begin = 1_772_474_400_000_000_000, Second = 1_000_000_000;

    public static readonly byte[] NetKey = Convert.FromHexString("0123456789abcdef0123456789abcdef");
    private readonly KeyRing _keys = new();
    private readonly List<FloodCopy[]> _copies = [];

    public Story(string? description = null)
    {
        _keys.AddNetKey(NetKey, 0, KeyOrigin.Given, "Library");
        History = new CaptureHistory { Keys = _keys, Receivers = [new ReceiverDescription(0, "evening.pcapng", "desk", LinkType.LeLinkLayerWithRadioHeader)] };
        if (description is not null)
            History.Directory = new NodeDirectory(NetworkDescriptionReader.Read(System.Text.Encoding.UTF8.GetBytes(description), "library.json"));
    }

    public CaptureHistory History { get; }
    public KeyRing Keys => _keys;

    public int Frame(long timeNs = Begin, Carries carries = Carries.MeshMessage, int? channel = 37, int? rssi = -60, CrcState crc = CrcState.Ok,
        FrameProblem problem = FrameProblem.None, ulong? advertiser = 0xC0FFEE001234, bool random = true, int? pduType = 2) =>
        History.Frames.Add(new FrameRow
        {
            TimeNsField = timeNs, Packed = FrameRow.Pack(advertiser ?? 0, advertiser is not null, random, pduType, channel, crc),
            Content = -1, CarriesField = carries, RssiField = (sbyte)(rssi ?? FrameRow.NoRssi), ProblemField = problem,
        });

    public int Flood(ushort src, ushort dst, uint seq, byte[] transportPdu, params FloodCopy[] copies)
    {
        var row = new FloodRow
        {
            FirstTimeNs = Begin, LastTimeNs = Begin + Second, Subnet = 0, IvIndex = 4, Seq = seq, Src = new MeshAddress(src), Dst = new MeshAddress(dst),
            Copies = copies.Length, MessageField = -1, TransferField = -1, OctetCount = (byte)transportPdu.Length,
            TtlHigh = copies.Length == 0 ? (byte)0 : copies.Max(copy => copy.Ttl), TtlLow = copies.Length == 0 ? (byte)0 : copies.Min(copy => copy.Ttl),
        };
        transportPdu.CopyTo(((Span<byte>)row.Octets));
        _copies.Add(copies);
        int flood = History.Floods.Add(row);
        var starts = new int[_copies.Count + 1];
        for (int i = 0; i < _copies.Count; i++)
            starts[i + 1] = starts[i] + _copies[i].Length;
        History.Copies.Fill(starts, [.. _copies.SelectMany(list => list)]);
        return flood;
    }

    public int Message(ushort src, ushort dst, uint seq, byte[] payload, bool control = false, MessageKey key = MessageKey.Application, bool decrypted = true, byte segments = 0, int flood = 0)
    {
        Opcode opcode = default;
        if (decrypted && !control)
            Opcode.TryRead(payload, out opcode, out _);
        return History.Messages.Add(new MessageRow
        {
            IsControl = control, TimeNs = Begin, Src = new MeshAddress(src), Dst = new MeshAddress(dst), Seq = seq, IvIndex = 4, Ttl = 5, Subnet = 0,
            Key = control ? MessageKey.None : key, AppKey = -1, Label = -1, TransMicBits = (byte)(control ? 0 : 32), Segments = segments, Decrypted = decrypted,
            Transfer = -1, PayloadAt = payload.Length == 0 ? 0 : History.Payloads.Add(payload), PayloadLength = decrypted ? payload.Length : 0, Opcode = opcode, FirstFloodLink = flood,
        });
    }

    public static Press Press(PressOutcome outcome, ushort[]? expected, ushort[] answered, string asks = "on", ushort src = 0x0003, ushort dst = 0xC001, long timeNs = Begin, bool acknowledged = true)
    {
        var press = new Press
        {
            TimeNs = timeNs, Src = new MeshAddress(src), Dst = new MeshAddress(dst), Tid = 7, Opcode = new Opcode(0x8202), Name = "Generic OnOff Set", Asks = asks,
            Acknowledged = acknowledged, Expected = expected?.Select(element => new MeshAddress(element)).ToList(), Outcome = outcome,
            LatencyMs = answered.Length > 0 ? 140.5 : null, LastTtl = 3, HopsSeen = 2,
        };
        press.Messages.Add(0);
        foreach (ushort element in answered)
            press.Answers.Add(new PressAnswer(new MeshAddress(element), 1, timeNs + 140_500_000));
        return press;
    }

    /// <summary>The account at a width.</summary>
    public string Explain(int columns = 80, bool colour = false)
    {
        if (History.Presses.Count > 0 && History.Messages.Count == 0)      // the presses' message 0
            Message(0x0003, 0xC001, 100, [0x82, 0x02, 0x01, 0x07], flood: Flood(0x0003, 0xC001, 100, [0x66], new FloodCopy(Frame(), 3)));
        History.Configuration ??= ConfigurationHeard.Read(History);
        History.NodeModels ??= new NodeModels(History.Directory, History.Configuration, History.Provisionings);
        using var text = new StringWriter();
        Explanation.Write(History, new Paper(text, columns, colour));
        return text.ToString();
    }
}
