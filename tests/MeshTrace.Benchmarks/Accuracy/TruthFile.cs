using System.Globalization;
using System.Text.Json;

namespace MeshTrace.Benchmarks.Accuracy;

/// <summary>One advertising event of the truth.</summary>
/// <param name="TimeNs">Start on the first channel.</param>
/// <param name="By">Name of the node.</param>
/// <param name="Ttl">TTL of the PDU in it.</param>
/// <param name="Heard">"receiver/channel" of each packet that was captured.</param>
internal sealed record TrueEvent(long TimeNs, string By, int Ttl, string[] Heard)
{
    public bool IsHeard => Heard.Length > 0;
}

internal sealed record TrueFlood(int Number, string What, int Src, int Dst, uint Seq, int Ttl, int? Press, int? Transfer, IReadOnlyList<TrueEvent> Events)
{
    public bool IsHeard => Events.Any(sent => sent.IsHeard);
    public long FirstNs => Events.Count == 0 ? 0 : Events[0].TimeNs;
}

internal sealed record TrueAnswer(int Element, long SentNs, long? ArrivedNs);

internal sealed record TruePress(int Number, long TimeNs, string Node, int Src, int? Dst, int? Tid, bool Acknowledged, string? NotSent, IReadOnlyList<int> Meant,
    IReadOnlyList<int> Expected, IReadOnlyList<int> Floods, IReadOnlyList<int> Acted, IReadOnlyList<TrueAnswer> Answers,
    IReadOnlyDictionary<int, string> Lost)
{
    /// <summary>The element answered, or did what was asked where no answer was asked for.</summary>
    public bool IsServedBy(int element) => Answers.Any(answer => answer.Element == element) || (!Acknowledged && Acted.Contains(element));
}

internal sealed record TrueTransfer(int Src, int Dst, long TimeNs, long? EndNs, int Segments, string Outcome, IReadOnlyList<(int SegO, int Flood)> Sent,
    IReadOnlyList<(int Flood, int From, uint Block)> Acks);

/// <summary>The truth of a composed capture, as its file has it.</summary>
internal sealed class TruthFile
{
    private readonly Dictionary<int, TrueFlood> _byNumber;

    private TruthFile(JsonElement root)
    {
        Floods = [.. root.GetProperty("floods").EnumerateArray().Select(ReadFlood)];
        _byNumber = Floods.ToDictionary(flood => flood.Number);
        Presses = [.. root.GetProperty("presses").EnumerateArray().Select(ReadPress)];
        Transfers = [.. root.GetProperty("transfers").EnumerateArray().Select(ReadTransfer)];
        Unrelated = root.GetProperty("receivers").EnumerateArray().Sum(receiver => receiver.GetProperty("unrelated").GetInt64());
        Frames = root.GetProperty("receivers").EnumerateArray().Sum(receiver => receiver.GetProperty("frames").GetInt64());
        IvUpdateFlagsHeard = [.. root.GetProperty("beacons").EnumerateArray()
            .Where(beacon => beacon.GetProperty("kind").GetString() == "secure" && beacon.GetProperty("events").EnumerateArray().Any(sent => sent.TryGetProperty("heard", out _)))
            .Select(beacon => beacon.TryGetProperty("ivUpdate", out JsonElement flag) && flag.GetBoolean())];
        StartNs = Nanoseconds(root.GetProperty("start"));
        BeaconsOfDevices = [.. root.GetProperty("beacons").EnumerateArray().Where(beacon => beacon.GetProperty("kind").GetString() == "unprovisioned"
            && beacon.GetProperty("events").EnumerateArray().Any(sent => sent.TryGetProperty("heard", out _))).Select(beacon => Nanoseconds(beacon.GetProperty("time")))];
        if (root.TryGetProperty("lifecycle", out JsonElement lifecycle))
            FriendsLost = [.. lifecycle.EnumerateArray().Where(one => one.GetProperty("what").GetString() == "friend-lost").Select(one => Nanoseconds(one.GetProperty("time")))];
        if (root.TryGetProperty("friendships", out JsonElement friendships))
            Dropped = friendships.EnumerateArray().Sum(one => one.GetProperty("dropped").GetInt32());
    }

    public IReadOnlyList<TrueFlood> Floods { get; }

    /// <summary>IV Update flags of the secure network beacons that were heard, in order of time.</summary>
    public IReadOnlyList<bool> IvUpdateFlagsHeard { get; }

    /// <summary>Unprovisioned device beacons that were heard.</summary>
    public IReadOnlyList<long> BeaconsOfDevices { get; }

    /// <summary>When a Low Power node gave its Friend up.</summary>
    public IReadOnlyList<long> FriendsLost { get; } = [];

    /// <summary>Messages that fell out of full Friend Queues.</summary>
    public int Dropped { get; }
    public IReadOnlyList<TruePress> Presses { get; }
    public IReadOnlyList<TrueTransfer> Transfers { get; }
    public long Unrelated { get; }
    public long Frames { get; }
    public long StartNs { get; }

    public static TruthFile Read(ReadOnlyMemory<byte> utf8)
    {
        using var document = JsonDocument.Parse(utf8);
        return new TruthFile(document.RootElement);
    }

    /// <summary>Share of the network's PDUs of which the receiver heard a copy.</summary>
    public double HeardShare => Floods.Count(flood => flood.IsHeard) / (double)Math.Max(1, Floods.Count(flood => flood.Events.Count > 0));

    public TrueFlood Flood(int number) => _byNumber[number];

    public IEnumerable<TrueFlood> FloodsOf(TruePress press) => press.Floods.Select(Flood);

    /// <summary>Network PDUs of a node that the receiver heard at least once, and all that it sent.</summary>
    public (int Heard, int Sent) CountOf(DrawnNode node)
    {
        int heard = 0, sent = 0;
        foreach (TrueFlood flood in Floods.Where(flood => node.Owns(flood.Src) && flood.Events.Count > 0))
        {
            sent++;
            heard += flood.IsHeard ? 1 : 0;
        }
        return (heard, sent);
    }

    private static TrueFlood ReadFlood(JsonElement json)
    {
        long first = json.TryGetProperty("time", out JsonElement time) ? Nanoseconds(time) : 0;
        return new TrueFlood(json.GetProperty("flood").GetInt32(), json.GetProperty("what").GetString()!, Address(json.GetProperty("src")),
            Address(json.GetProperty("dst")), json.GetProperty("seq").GetUInt32(), json.GetProperty("ttl").GetInt32(),
            json.TryGetProperty("press", out JsonElement press) ? press.GetInt32() : null,
            json.TryGetProperty("transfer", out JsonElement transfer) ? transfer.GetInt32() : null,
            [.. json.GetProperty("events").EnumerateArray().Select(sent => new TrueEvent(first + (sent.GetProperty("us").GetInt64() * 1000),
                sent.GetProperty("by").GetString()!, sent.GetProperty("ttl").GetInt32(),
                sent.TryGetProperty("heard", out JsonElement heard) ? [.. heard.EnumerateArray().Select(item => item.GetString()!)] : []))]);
    }

    private static TruePress ReadPress(JsonElement json) => new(json.GetProperty("press").GetInt32(), Nanoseconds(json.GetProperty("time")),
        json.GetProperty("node").GetString()!, Address(json.GetProperty("src")), AddressOrNull(json.GetProperty("dst")), NumberOrNull(json.GetProperty("tid")),
        json.GetProperty("acknowledged").GetBoolean(), json.GetProperty("notSent").GetString(), Addresses(json.GetProperty("meant")),
        Addresses(json.GetProperty("expected")), [.. json.GetProperty("floods").EnumerateArray().Select(flood => flood.GetInt32())],
        [.. json.GetProperty("acted").EnumerateArray().Select(acted => Address(acted.GetProperty("element")))],
        [.. json.GetProperty("answered").EnumerateArray().Select(answer => new TrueAnswer(Address(answer.GetProperty("element")),
            Nanoseconds(answer.GetProperty("sent")), answer.GetProperty("arrived").ValueKind == JsonValueKind.Null ? null : Nanoseconds(answer.GetProperty("arrived"))))],
        json.GetProperty("lost").EnumerateArray().ToDictionary(lost => Address(lost.GetProperty("element")), lost => lost.GetProperty("cause").GetString()!));

    private static TrueTransfer ReadTransfer(JsonElement json) => new(Address(json.GetProperty("src")), Address(json.GetProperty("dst")),
        Nanoseconds(json.GetProperty("time")), json.GetProperty("end").ValueKind == JsonValueKind.Null ? null : Nanoseconds(json.GetProperty("end")),
        json.GetProperty("segments").GetInt32(), json.GetProperty("outcome").GetString()!,
        [.. json.GetProperty("sent").EnumerateArray().Select(sent => (sent.GetProperty("segO").GetInt32(), sent.GetProperty("flood").GetInt32()))],
        [.. json.GetProperty("acks").EnumerateArray().Select(ack => (ack.GetProperty("flood").GetInt32(), Address(ack.GetProperty("from")),
            uint.Parse(ack.GetProperty("block").GetString().AsSpan(2), NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture)))]);

    private static List<int> Addresses(JsonElement array) => [.. array.EnumerateArray().Select(Address)];

    private static int Address(JsonElement text) => int.Parse(text.GetString().AsSpan(2), NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture);

    private static int? AddressOrNull(JsonElement text) => text.ValueKind == JsonValueKind.Null ? null : Address(text);

    private static int? NumberOrNull(JsonElement number) => number.ValueKind == JsonValueKind.Null ? null : number.GetInt32();

    private static long Nanoseconds(JsonElement text)
    {
        string time = text.GetString()!;
        var seconds = DateTimeOffset.ParseExact(time[..19] + "Z", "yyyy-MM-dd'T'HH:mm:ss'Z'", CultureInfo.InvariantCulture);
        return (seconds.ToUnixTimeSeconds() * 1_000_000_000) + int.Parse(time.AsSpan(20, 9), CultureInfo.InvariantCulture);
    }
}
