using System.Globalization;
using System.Text.Json;
using MeshTrace.Protocol.Bearer;

namespace MeshTrace.Synthesis.Tests.Truth;

/// <summary>Every captured frame is in the truth and every hearing of the truth is in the capture, for the demo and under bad
/// conditions.</summary>
public class TruthAgreesWithCaptureTests
{
    public static TheoryData<string> Demo => ["library", "boathouse"];

    [Theory, MemberData(nameof(Demo))]
    public void Demo_EachFrameIsInTheTruth(string name) =>
        Check(Composed.Of(File.ReadAllBytes(Path.Combine(Repository.Root, "captures-demo", name + ".scenario.json"))));

    [Theory]
    [InlineData(251)]
    [InlineData(256)]
    [InlineData(272)]
    public void EachLinkType_EachFrameIsInTheTruth(int linkType) => Check(Composed.Of(Chain.With(
        ("\"linkType\": 256", $"\"linkType\": {linkType}, \"keepsDamaged\": true, \"heardShare\": 0.8"),
        ("\"fadingDb\": 0", "\"fadingDb\": 6"), ("\"rssiDbm\": -80", "\"rssiDbm\": -96"))));

    private static void Check(Composed composed)
    {
        var captured = composed.Frames.Where(frame => frame.IsPdu).GroupBy(frame =>
            (frame.Src.ToString(), frame.Seq, (int)frame.Ttl, frame.Receiver, frame.Channel ?? 0))
            .ToDictionary(group => group.Key, group => group.Count());
        var told = new Dictionary<(string, uint, int, int, int), int>();
        var receivers = composed.Truth.GetProperty("receivers").EnumerateArray().ToList();
        foreach (JsonElement flood in composed.Floods)
        {
            foreach (JsonElement sent in flood.GetProperty("events").EnumerateArray())
            {
                foreach (var (receiver, channel) in Hearings(sent, "heard"))
                {
                    // a frame without header tells no channel
                    bool tellsChannel = receivers[receiver].GetProperty("linkType").GetInt32() != 251;
                    var key = (flood.GetProperty("src").GetString()!, flood.GetProperty("seq").GetUInt32(),
                        sent.GetProperty("ttl").GetInt32(), receiver, tellsChannel ? channel : 0);
                    told[key] = told.GetValueOrDefault(key) + 1;
                }
            }
        }
        Assert.Equal(told, captured);
        Assert.NotEmpty(captured);
        int beacons = composed.Truth.GetProperty("beacons").EnumerateArray().Sum(beacon =>
            beacon.GetProperty("events").EnumerateArray().Sum(sent => Hearings(sent, "heard").Count()));
        for (int i = 0; i < receivers.Count; i++)
        {
            Assert.Equal(receivers[i].GetProperty("frames").GetInt64(), composed.Frames.Count(frame => frame.Receiver == i));
            Assert.Equal(receivers[i].GetProperty("damaged").GetInt64(),
                composed.Frames.Count(frame => frame.Receiver == i && !frame.CrcGood));
        }
        long unrelated = receivers.Sum(receiver => receiver.GetProperty("unrelated").GetInt64());
        Assert.Equal(composed.Frames.Count(frame => frame.CrcGood), captured.Values.Sum() + beacons + unrelated);
    }

    private static IEnumerable<(int Receiver, int Channel)> Hearings(JsonElement sent, string name) =>
        !sent.TryGetProperty(name, out var heard) ? []
        : heard.EnumerateArray().Select(item => item.GetString()!.Split('/')).Select(parts =>
            (int.Parse(parts[0], CultureInfo.InvariantCulture), int.Parse(parts[1], CultureInfo.InvariantCulture)));

    [Fact]
    public void FrameTimes_AreThoseOfTheTruthPlusTheAirTime()
    {
        var composed = Composed.Of(Chain.Json);
        JsonElement flood = composed.Floods.First();
        long first = Composed.Nanoseconds(flood.GetProperty("time").GetString()!);
        DecodedFrame frame = composed.Frames.First(frame => frame.IsPdu && frame.Channel == 37);
        Assert.Equal(first + (320 * 1000), frame.TimeNs);   // Generic OnOff Set: 24 octets of AdvData, 320 µs
        Assert.Equal(24, frame.AdvDataOctets);
    }

    [Fact]
    public void ReceiverClock_ShiftsAndDrifts()
    {
        long[] Times(string json) => [.. Composed.Of(json).Frames.Select(frame => frame.TimeNs)];
        long[] straight = Times(Chain.Json), shifted =
            Times(Chain.With(("\"channels\": \"three\"", "\"channels\": \"three\", \"clockOffsetMs\": -2.5, \"clockDriftPpm\": 40")));
        long start = new DateTimeOffset(2026, 4, 18, 9, 0, 0, TimeSpan.Zero).ToUnixTimeSeconds() * 1_000_000_000;
        Assert.Equal(straight.Select(time => time - 2_500_000 + ((time - start) / 1000 * 40 / 1_000_000 * 1000)), shifted);
    }

    [Fact]
    public void BriefTruth_LeavesOutFloodsAndBeacons()
    {
        var composed = Composed.Of(Chain.With(("\"seed\": 11", "\"seed\": 11, \"truth\": \"presses\"")));
        Assert.False(composed.Truth.TryGetProperty("floods", out _));
        Assert.Single(composed.Presses);
    }

    [Fact]
    public void HciReceiver_GivesReports()
    {
        var composed = Composed.Of(Chain.With(("\"linkType\": 256", "\"linkType\": 187, \"keepsDamaged\": true")));
        Assert.Contains(composed.Frames, frame => frame is { IsPdu: true, Type: AdType.MeshMessage, Channel: null });
        Assert.Equal(composed.Truth.GetProperty("receivers")[0].GetProperty("frames").GetInt32(), composed.Frames.Count);
    }
}
