using System.Text.Json;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Analysis.Transfers;

namespace MeshTrace.Analysis.Tests.Transfers;

/// <summary>The course of segmented transfers, against simulated ones.</summary>
public sealed class TimelineTests
{
    private const string Payload40 = "c1ffff000102030405060708090a0b0c0d0e0f101112131415161718191a1b1c1d1e1f2021222324";

    private static ComposedNetwork Network(string faults, string sar = "1.0", double heard = 1, int octets = 60)
    {
        string transfers = string.Join(",\n", Enumerable.Range(0, 6).Select(number => $$"""{"atS": {{5 + (number * 15)}}, "transfer": "panel 1", "to": "lamp 2", "octets": {{octets}} }"""));
        string scenario = new Building { Panels = 1, Lamps = 4, LengthM = 20, Presses = 16, HeardShare = heard, MoreSchedule = transfers, Faults = faults }.ToScenario();
        return ComposedNetwork.Of(scenario.Replace("\"rotationS\"", $"\"sar\": \"{sar}\", \"rotationS\"", StringComparison.Ordinal));
    }

    [Theory]
    [InlineData("", "1.0", "acknowledged", TransferStall.None)]
    [InlineData("", "1.1", "acknowledged", TransferStall.None)]
    [InlineData("""{"fault": "transfer-refused", "node": "lamp 2"}""", "1.0", "cancelled", TransferStall.Cancelled)]
    [InlineData("""{"fault": "lamp-powered-off", "node": "lamp 2", "fromS": 0, "untilS": 200}""", "1.0", "given-up", TransferStall.ReceiverSilent)]
    [InlineData("""{"fault": "lamp-powered-off", "node": "lamp 2", "fromS": 0, "untilS": 200}""", "1.1", "given-up", TransferStall.ReceiverSilent)]
    [InlineData("""{"fault": "acknowledgment-not-arriving", "node": "lamp 2", "fromS": 0, "untilS": 200}""", "1.0", "given-up", TransferStall.AcknowledgmentNotArriving)]
    [InlineData("""{"fault": "acknowledgment-not-arriving", "node": "lamp 2", "fromS": 0, "untilS": 200}""", "1.1", "given-up", TransferStall.AcknowledgmentNotArriving)]
    public void WhereATransferStood_AndItsRounds_AreThoseOfTheTruth(string faults, string sar, string outcome, TransferStall stall)
    {
        ComposedNetwork network = Network(faults, sar);
        JsonElement[] truths = [.. network.Truth.GetProperty("transfers").EnumerateArray()];
        Assert.Equal(6, network.History.Timelines.Count);
        for (int row = 0; row < truths.Length; row++)
        {
            TransferTimeline timeline = network.History.Timelines[row];
            Assert.Equal((outcome, stall), (truths[row].GetProperty("outcome").GetString(), timeline.Stall));
            Assert.Equal(PassesOf(truths[row]), timeline.Rounds.Count);
            Assert.Equal(RoundCause.First, timeline.Rounds[0].Cause);
            Assert.Equal(timeline.Stall == TransferStall.None, timeline.StalledSinceNs is null);
            Assert.False(timeline.SarHeard);
            if (stall is TransferStall.ReceiverSilent)
                Assert.All(timeline.Rounds.Skip(1), round => Assert.Equal(RoundCause.Timer, round.Cause));
        }
    }

    /// <summary>Half heard, nobody is accused of what only the receiver missed: a transfer that went well stands nowhere, or cannot be told.</summary>
    [Theory]
    [InlineData("1.0", 0.3)]
    [InlineData("1.1", 0.15)]
    public void ATransferThatWentWell_HalfHeard_AccusesNobody(string sar, double heard)
    {
        ComposedNetwork network = Network("", sar, heard, octets: 100);
        Assert.NotEmpty(network.History.Timelines);
        Assert.All(network.History.Timelines, timeline => Assert.True(timeline.Stall is TransferStall.None or TransferStall.CannotTell, timeline.Stall.ToString()));
    }

    [Fact]
    public void AGroup_IsNotAcknowledged_AndItsRoundsAreCounted()
    {
        string scenario = new Building { Panels = 1, Lamps = 4, LengthM = 20, Presses = 3, MoreSchedule = """{"atS": 9, "transfer": "panel 1", "to": "Stairs", "octets": 60}""" }.ToScenario();
        ComposedNetwork network = ComposedNetwork.Of(scenario);
        TransferTimeline timeline = Assert.Single(network.History.Timelines);
        Assert.Equal((TransferStall.None, 3), (timeline.Stall, timeline.Rounds.Count));     // SAR Multicast Retransmissions Count 2, the default of edition 1.1
        Assert.Empty(timeline.Acks);
        Assert.InRange(timeline.SegmentIntervalMs!.Value, 50, 80);
    }

    [Fact]
    public void AskedForASegment_SentNoMore_TheSenderStopped()
    {
        var air = new AirBuilder();
        List<byte[]> segments = air.Segments(Payload40, 100, 0x0003, 0x0005);
        for (int segO = 0; segO < segments.Count; segO++)
            air.Network(segO * 60, false, 5, 100 + (uint)segO, 0x0003, 0x0005, segments[segO]);
        air.Acknowledge(600, 7, 0x0005, 0x0003, 100, 0b0101);
        air.Access(20_000, 5, 200, 0x0003, 0xC001, "82020101");
        TransferTimeline timeline = Assert.Single(air.Analyse().Timelines);
        Assert.Equal((TransferStall.SenderStopped, 0b1010u, 600_000_000L), (timeline.Stall, timeline.Unconfirmed, timeline.StalledSinceNs));
        TimedAcknowledgment ack = Assert.Single(timeline.Acks);
        Assert.Equal((0, 0b0101u, 400.0), (ack.AfterRound, ack.Progress, ack.TimerMs));     // 150 + 50 x TTL 5 (Mesh Profile 1.0 §3.5.3.4)
        Assert.Equal(600 - (60 * (segments.Count - 1)), ack.AfterSegmentMs!.Value, 3);
    }

    /// <summary>The first copy heard of a segment was a repetition of it: its acknowledgment had been heard. One long before belongs to another message.</summary>
    [Theory, InlineData(560, TransferOutcome.Cancelled), InlineData(0, TransferOutcome.Incomplete)]
    public void AnAcknowledgmentHeardShortlyBeforeItsFirstSegment_BelongsToIt(double ackMs, TransferOutcome outcome)
    {
        var air = new AirBuilder();
        air.Acknowledge(ackMs, 7, 0x0005, 0x0003, 100, 0);
        air.Network(600, false, 5, 100, 0x0003, 0x0005, air.Segments(Payload40, 100, 0x0003, 0x0005)[0]);
        Assert.Equal(outcome, Assert.Single(air.Analyse().Transfers).Outcome);
    }

    [Fact]
    public void TheEndOfTheCapture_IsNoStall()
    {
        var air = new AirBuilder();
        List<byte[]> segments = air.Segments(Payload40, 100, 0x0003, 0x0005);
        for (int round = 0; round < 2; round++)
            for (int segO = 0; segO < segments.Count; segO++)
                air.Network((round * 800) + (segO * 60), false, 5, 100 + (uint)((round * 10) + segO), 0x0003, 0x0005, segments[segO]);
        TransferTimeline timeline = Assert.Single(air.Analyse().Timelines);
        Assert.Equal((TransferStall.CutOff, 2), (timeline.Stall, timeline.Rounds.Count));
        Assert.Equal((RoundCause.Timer, 450.0), (timeline.Rounds[1].Cause, timeline.Rounds[1].TimerMs));     // 200 + 50 x TTL 5 (Mesh Profile 1.0 §3.5.3.3)
    }

    /// <summary>Passes of the sender in the truth: a segment number that is not above the one before begins another.</summary>
    private static int PassesOf(JsonElement transfer)
    {
        int passes = 0, before = int.MaxValue;
        foreach (JsonElement sent in transfer.GetProperty("sent").EnumerateArray())
        {
            int segO = sent.GetProperty("segO").GetInt32();
            passes += segO <= before ? 1 : 0;
            before = segO;
        }
        return passes;
    }
}
