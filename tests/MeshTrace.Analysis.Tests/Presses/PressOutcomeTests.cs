using System.Text;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol.Bearer;

namespace MeshTrace.Analysis.Tests.Presses;

/// <summary>Presses of a boathouse: a panel (0x0002) asks lamps 0x0010, 0x0011 (group 0xC001) and 0x0012 (alone).</summary>
public sealed class PressOutcomeTests
{
    private const ushort Panel = 0x0002, Lamp1 = 0x0010, Lamp2 = 0x0011, Boathouse = 0xC001, States = 0xC0F0;
    private readonly AirBuilder _air = new();
    private readonly Dictionary<ushort, uint> _seq = [];
    private double _ms;

    [Fact]
    public void EveryoneAnswered_IsAll_WithTheLatencyOfTheLastFirstAnswer()
    {
        Set(Panel, Boathouse, on: true, tid: 1);
        Status(Lamp1, Panel, on: true, afterMs: 40);
        Status(Lamp2, Panel, on: true, afterMs: 35);
        Status(Lamp2, Panel, on: true, afterMs: 100);       // again: the first one counts
        Press press = Assert.Single(Analyse().Presses);
        Assert.Equal((PressOutcome.All, "on", true), (press.Outcome, press.Asks, press.Acknowledged));
        Assert.Equal([Lamp1, Lamp2], press.Expected!.Select(element => element.Value));
        Assert.Equal(75, press.LatencyMs!.Value, 3);
    }

    [Fact]
    public void ARepetitionWithinSixSeconds_IsTheSamePress_AndAnotherValueIsAPressOfItsOwn()
    {
        Set(Panel, Boathouse, on: true, tid: 1);
        Wait(1_000);
        Set(Panel, Boathouse, on: true, tid: 1);
        Wait(1_000);
        Set(Panel, Boathouse, on: false, tid: 1);
        Wait(5_000);
        Set(Panel, Boathouse, on: true, tid: 1);        // more than 6 s after the first request: a new transaction
        CaptureHistory history = Analyse();
        Assert.Equal(["on", "off", "on"], history.Presses.Select(press => press.Asks));
        Assert.Equal([2, 1, 1], history.Presses.Select(press => press.Messages.Count));
        Assert.Contains(history.Findings, finding => finding.Id == "transaction-number-reused" && finding.Press == 1);
    }

    [Fact]
    public void AStatusCountsForTheNewestPressItFits_AndOnlyWithTheStateAskedFor()
    {
        Set(Panel, Boathouse, on: true, tid: 1);
        Wait(200);
        Set(Panel, Boathouse, on: false, tid: 2);
        Status(Lamp1, Panel, on: false, afterMs: 40);
        Status(Lamp2, Panel, on: true, afterMs: 10);
        CaptureHistory history = Analyse();
        Assert.Equal([Lamp2], history.Presses[0].Answers.Select(answer => answer.Element.Value));
        Assert.Equal([Lamp1], history.Presses[1].Answers.Select(answer => answer.Element.Value));
    }

    /// <summary>The first copy heard of a request was a repetition of it: its answers came before. They were given to an older press with the same value.</summary>
    [Fact]
    public void AnswersHeardBeforeTheFirstCopyOfTheirRequest_AreItsAnswers()
    {
        Set(Panel, Boathouse, on: true, tid: 1);
        Status(Lamp1, Panel, on: true, afterMs: 40);
        Status(Lamp2, Panel, on: true, afterMs: 40);
        Wait(9_000);
        Status(Lamp1, Panel, on: true, afterMs: 0);
        Status(Lamp2, Panel, on: true, afterMs: 20);
        Wait(60);
        Set(Panel, Boathouse, on: true, tid: 2);
        CaptureHistory history = Analyse();
        Assert.All(history.Presses, press => Assert.Equal((PressOutcome.All, 2), (press.Outcome, press.Answers.Count)));
        Assert.Equal(80, history.Presses[0].LatencyMs!.Value, 3);
        Assert.Null(history.Presses[1].LatencyMs);
    }

    [Theory, InlineData(600, 1_000), InlineData(60, 900)]
    public void AnswersHeardTooLongBefore_OrInTimeForTheOlderPress_StayWhereTheyAre(double untilRequestMs, double afterOlderMs)
    {
        Set(Panel, Boathouse, on: true, tid: 1);
        Wait(afterOlderMs);
        Status(Lamp1, Panel, on: true, afterMs: 0);
        Wait(untilRequestMs);
        Set(Panel, Boathouse, on: true, tid: 2);
        CaptureHistory history = Analyse();
        Assert.Equal([1, 0], history.Presses.Select(press => press.Answers.Count));
    }

    [Fact]
    public void SilenceIsNone_OnlyWhereTheReceiverHearsTheLampsWell()
    {
        HearWell(Lamp1, Lamp2);
        Set(Panel, Boathouse, on: true, tid: 9);
        Assert.Equal(PressOutcome.None, Analyse().Presses[^1].Outcome);
    }

    /// <summary>Ten of ten heard may as well be a share of 72 % (lower end of the Wilson interval): both lamps missed by a chance of 8 %.</summary>
    [Fact]
    public void SilenceIsUnknown_WhereTooFewPdusTellHowWellTheLampsAreHeard()
    {
        HearSome(10, Lamp1, Lamp2);
        Set(Panel, Boathouse, on: true, tid: 9);
        Assert.Equal(PressOutcome.Unknown, Analyse().Presses[^1].Outcome);
    }

    /// <summary>However many lamps there are: a receiver that is deaf misses the answers of all of them together.</summary>
    [Theory, InlineData(false, PressOutcome.None), InlineData(true, PressOutcome.Unknown)]
    public void SilenceIsUnknown_WhereTheReceiverWasDeafWhenAnswersCame(bool deaf, PressOutcome expected)
    {
        HearWell(Lamp1, Lamp2);
        Passers(seconds: 60);
        Set(Panel, Boathouse, on: true, tid: 9);
        if (deaf)
            Wait(8_000);
        Passers(seconds: deaf ? 60 : 68);
        CaptureHistory history = Analyse();
        Assert.Equal(deaf, history.Deafness.Spans.Count > 0);
        Assert.Equal(expected, history.Presses[^1].Outcome);
    }

    [Fact]
    public void SilenceIsUnknown_WhereTheReceiverMissesHalfOfWhatTheLampsSend()
    {
        foreach (ushort lamp in new[] { Lamp1, Lamp2 })
            for (int i = 0; i < 10; i++)
            {
                Status(lamp, States, on: false, afterMs: 50);
                _seq[lamp]++;       // a number used and not heard
            }
        Set(Panel, Boathouse, on: true, tid: 9);
        Assert.Equal(PressOutcome.Unknown, Analyse().Presses[^1].Outcome);
    }

    [Fact]
    public void SilenceIsUnknown_WhereALampWasNeverHeard()
    {
        Set(Panel, Boathouse, on: true, tid: 9);
        Assert.Equal(PressOutcome.Unknown, Analyse().Presses[^1].Outcome);
    }

    [Fact]
    public void AnUnacknowledgedPress_ThatChangesNothing_LeavesNoTraceOfSuccess()
    {
        HearWell(Lamp1, Lamp2);                             // both tell "off"
        Set(Panel, Boathouse, on: false, tid: 5, acknowledged: false);
        Assert.Equal(PressOutcome.Unknown, Analyse().Presses[^1].Outcome);
    }

    [Fact]
    public void AnUnacknowledgedPress_ThatWouldChangeLampsThatPublish_IsNoneWhenTheyStaySilent()
    {
        HearWell(Lamp1, Lamp2);
        Set(Panel, Boathouse, on: true, tid: 5, acknowledged: false);
        Assert.Equal(PressOutcome.None, Analyse().Presses[^1].Outcome);
    }

    /// <summary>Two states told one after the other may come in the wrong order: then the last one heard need not be the last one taken.</summary>
    [Theory, InlineData(300, PressOutcome.Unknown), InlineData(5_000, PressOutcome.None)]
    public void AnUnacknowledgedPress_AfterTwoStatesInShortOrder_MayChangeNothing(double apartMs, PressOutcome expected)
    {
        HearWell(Lamp1, Lamp2);
        foreach (ushort lamp in new[] { Lamp1, Lamp2 })
        {
            Status(lamp, States, on: true, afterMs: 50);
            Status(lamp, States, on: false, apartMs);
        }
        Wait(20_000);
        Set(Panel, Boathouse, on: true, tid: 5, acknowledged: false);
        Assert.Equal(expected, Analyse().Presses[^1].Outcome);
    }

    [Fact]
    public void NobodySubscribed_IsNone_WithItsFinding()
    {
        Set(Panel, 0xC00E, on: true, tid: 1);
        CaptureHistory history = Analyse();
        Assert.Equal(PressOutcome.None, history.Presses[0].Outcome);
        Assert.Empty(history.Presses[0].Expected!);
        Assert.Equal("nobody-subscribed", history.Findings[history.Presses[0].Findings[0]].Id);
    }

    [Fact]
    public void WithoutADescription_AUnicastIsExpectedToAnswer_AndAGroupCannotBeTold()
    {
        Set(Panel, Lamp1, on: true, tid: 1);
        Status(Lamp1, Panel, on: true, afterMs: 30);
        Set(Panel, Boathouse, on: true, tid: 2);
        Status(Lamp1, Panel, on: true, afterMs: 30);
        CaptureHistory history = Analyse(described: false);
        Assert.Equal([Lamp1], history.Presses[0].Expected!.Select(element => element.Value));
        Assert.Equal(PressOutcome.All, history.Presses[0].Outcome);
        Assert.Null(history.Presses[1].Expected);
        Assert.Equal(PressOutcome.Unknown, history.Presses[1].Outcome);
    }

    [Theory]
    [InlineData("8206f0ff01", "level -16")]
    [InlineData("82090001000001", "level by 256")]
    [InlineData("8242070001", "scene 7")]
    [InlineData("824c204e01", "lightness 20000")]
    [InlineData("825e204e8813000001", "Light CTL Set")]
    public void Asks_IsPlainWords(string payload, string asks)
    {
        _air.Access(_ms, 5, NextSeq(Panel), Panel, Lamp1, payload);
        Assert.Equal(asks, Assert.Single(Analyse().Presses).Asks);
    }

    private void Wait(double ms) => _ms += ms;

    private void HearWell(params ushort[] lamps) => HearSome(30, lamps);

    private void HearSome(int statuses, params ushort[] lamps)
    {
        foreach (ushort lamp in lamps)
            for (int i = 0; i < statuses; i++)
                Status(lamp, States, on: false, afterMs: 50);
        Wait(60_000);
    }

    /// <summary>Unrelated advertising of six devices, each ten times a second.</summary>
    private void Passers(int seconds)
    {
        for (int i = 0; i < seconds * 10; i++)
        {
            for (uint device = 0; device < 6; device++)
                _air.Structure(_ms + device, (AdType)0xFF, [0xFF, 0xFF, (byte)device], advertiser: 0xC000000000A0ul + device, channel: 37 + (i % 3));
            Wait(100);
        }
    }

    private void Set(ushort src, ushort dst, bool on, byte tid, bool acknowledged = true) =>
        _air.Access(_ms, 5, NextSeq(src), src, dst, (acknowledged ? "8202" : "8203") + (on ? "01" : "00") + tid.ToString("x2"));

    private void Status(ushort src, ushort dst, bool on, double afterMs)
    {
        Wait(afterMs);
        _air.Access(_ms, 5, NextSeq(src), src, dst, "8204" + (on ? "01" : "00"));
    }

    private uint NextSeq(ushort src) => _seq[src] = _seq.GetValueOrDefault(src) + 1;

    private CaptureHistory Analyse(bool described = true)
    {
        var keys = new KeyArguments { NetKeys = [new TypedKey(0, new KeyOctets(AirBuilder.NetKey))], AppKeys = [new TypedKey(0, new KeyOctets(AirBuilder.AppKey))] };
        NetworkDescription? description = described ? NetworkDescriptionReader.Read(Encoding.UTF8.GetBytes(Description()), "boathouse.json") : null;
        var analysis = new CaptureAnalysis(new AnalysisSettings { Keys = keys, Description = description });
        analysis.Read(_air.Frames);
        return analysis.Complete();
    }

    private static string Description()
    {
        string nodes = string.Join(',', new[] { (Panel, "1001", ""), (Lamp1, "1000", "\"C001\""), (Lamp2, "1000", "\"C001\"") }.Select(node => $$"""
            {"UUID":"{{Guid.NewGuid()}}","unicastAddress":"{{node.Item1:X4}}","deviceKey":"{{Convert.ToHexString(AirBuilder.AppKey)}}","security":"secure","netKeys":[{"index":0,"updated":false}],
             "appKeys":[{"index":0,"updated":false}],"configComplete":true,"excluded":false,
             "elements":[{"index":0,"location":"0000","models":[{"modelId":"{{node.Item2}}","subscribe":[{{node.Item3}}],"bind":[0]},
               {"modelId":"1300","subscribe":[{{node.Item3}}],"bind":[0]},{"modelId":"1303","subscribe":[],"bind":[0]},{"modelId":"1002","subscribe":[],"bind":[0]},{"modelId":"1203","subscribe":[],"bind":[0]}]}]}
            """));
        return $$"""
            {"$schema":"x","id":"x","version":"1.0.1","meshUUID":"{{Guid.Empty}}","meshName":"Boathouse","timestamp":"2026-03-02T18:00:00Z","partial":false,
             "netKeys":[{"name":"n","index":0,"key":"{{Convert.ToHexString(AirBuilder.NetKey)}}","phase":0,"minSecurity":"secure","timestamp":"2026-03-02T18:00:00Z"}],
             "appKeys":[{"name":"a","index":0,"boundNetKey":0,"key":"{{Convert.ToHexString(AirBuilder.AppKey)}}"}],
             "provisioners":[{"provisionerName":"p","UUID":"{{Guid.Empty}}","allocatedUnicastRange":[],"allocatedGroupRange":[],"allocatedSceneRange":[]}],
             "nodes":[{{nodes}}],"groups":[{"name":"Boathouse","address":"C001","parentAddress":"0000"}],"scenes":[]}
            """;
    }
}
