using MeshTrace.Analysis.Repeats;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Repeats;

public sealed class MessageRepeatTests
{
    private const string AcknowledgedOn = "82020107", UnacknowledgedOn = "82030107", StatusOn = "820401";

    [Theory]
    [InlineData(AcknowledgedOn, new[] { 0.0, 1_000, 2_010 }, RepeatKind.Transaction)]
    [InlineData(UnacknowledgedOn, new[] { 0.0, 2_500 }, RepeatKind.Transaction)]    // beyond any publish interval
    [InlineData(UnacknowledgedOn, new[] { 0.0, 100 }, RepeatKind.Unclear)]
    [InlineData(StatusOn, new[] { 0.0, 103, 199 }, RepeatKind.Publication)]
    [InlineData(StatusOn, new[] { 0.0, 130, 800 }, RepeatKind.Unclear)]
    public void TheSamePayloadWithANewSeq_IsARepeat(string payload, double[] times, RepeatKind kind)
    {
        var air = new AirBuilder();
        for (int i = 0; i < times.Length; i++)
            air.Access(times[i], 5, 100 + (uint)i, 0x0003, 0xC001, payload);
        RepeatedMessage repeat = Assert.Single(air.Analyse().MessageRepeats);
        Assert.Equal((kind, times.Length), (repeat.Kind, repeat.Messages.Count));
        Assert.Equal(times[1], repeat.GapsMs[0], 6);
    }

    [Theory]
    [InlineData(AcknowledgedOn, AcknowledgedOn, 6_500)]     // another transaction (Mesh Model 1.1 §3.3: 6 s)
    [InlineData(AcknowledgedOn, "82020108", 100)]           // another TID
    [InlineData(StatusOn, StatusOn, 5_000)]                 // a periodic publication
    [InlineData(StatusOn, "820400", 100)]
    public void AnotherMessage_IsNoRepeat(string first, string second, double afterMs)
    {
        var air = new AirBuilder();
        air.Access(0, 5, 100, 0x0003, 0xC001, first);
        air.Access(afterMs, 5, 101, 0x0003, 0xC001, second);
        Assert.Empty(air.Analyse().MessageRepeats);
    }

    /// <summary>With the settings known, a publication is told from the application's repeats also where both carry a TID.</summary>
    [Fact]
    public void PublishRetransmit_IsKnownByItsSetting()
    {
        string scenario = new Building { Panels = 1, Lamps = 3, LengthM = 15, Presses = 10 }.ToScenario()
            .Replace("\"to\": \"Reading room\"", "\"to\": \"Reading room\", \"retransmitCount\": 2, \"retransmitIntervalMs\": 150", StringComparison.Ordinal)
            .Replace("\"acknowledged\": true", "\"acknowledged\": false", StringComparison.Ordinal);
        ComposedNetwork network = ComposedNetwork.Of(scenario);
        RepeatedMessage[] requests = [.. network.History.MessageRepeats.Where(repeat => network.History.Messages[repeat.Messages[0]].Opcode.Value == 0x8203)];
        Assert.NotEmpty(requests);
        Assert.All(requests, repeat => Assert.Equal((RepeatKind.Publication, 3), (repeat.Kind, repeat.Messages.Count)));
    }
}
