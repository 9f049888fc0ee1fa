using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Notes;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Tests.Support;

namespace MeshTrace.Reports.Tests.Records;

/// <summary>The expected lines are written by hand from docs/records.md.</summary>
public sealed class EventAndNoteRecordsTests
{
    private readonly Story _story = new();

    [Fact]
    public void Event_OfANodeAndOfNobodyYet()
    {
        _story.History.Lifecycle =
        [
            new LifecycleEvent(CapturedFrame.NoTime, LifecycleKind.UnprovisionedBeacon, -1, null, "a device in no network sends beacons", "beacon", 0),
            new LifecycleEvent(Story.Begin, LifecycleKind.KeyBound, 0, new MeshAddress(3), "binds AppKey 0", "message", 6),
        ];
        string networkId = _story.Keys.Subnets[0].NetworkId.ToString("x16");
        Assert.Equal(
            [
                """{"record":"event","event":1,"kind":"unprovisioned-beacon","time":null,"networkId":null,"netKeyIndex":null,"node":null,"says":"a device in no network sends beacons","evidence":[{"record":"beacon","index":1}]}""",
                """{"record":"event","event":2,"kind":"key-bound","time":"2026-03-02T18:00:00.000000000Z","networkId":"NETWORKID","netKeyIndex":0,"node":"0x0003","says":"binds AppKey 0","evidence":[{"record":"message","index":7}]}"""
                    .Replace("NETWORKID", networkId, StringComparison.Ordinal),
            ], Lines.Of(_story.History, RecordKind.Event));
    }

    [Fact]
    public void EveryKindOfEvent_HasAWordOfItsOwn()
    {
        string[] words = [.. Enum.GetValues<LifecycleKind>().Select(EventRecords.KindWord)];
        Assert.Equal(words.Length, words.Distinct().Count());
        Assert.All(words, word => Assert.Matches("^[a-z]+(-[a-z]+)*$", word));
    }

    [Fact]
    public void Note_OfAPressAndOfAPlace()
    {
        var time = new NoteTime(Story.Begin, false, 0);
        _story.History.Notes = new FieldNotes(
            [
                new PlacedNote { Note = new FieldNote(2, time, "entrance panel", "pressed: nothing happened"), Node = new MeshAddress(3), TimeNs = Story.Begin, Outcome = NoteOutcome.NothingHeard, NumbersUnheard = 0 },
                new PlacedNote { Note = new FieldNote(3, time, "", "rain"), TimeNs = null },
            ], -3_600_000_000_000);
        Assert.Equal(
            [
                """{"record":"note","note":1,"time":"2026-03-02T18:00:00.000000000Z","where":"entrance panel","node":"0x0003","words":"pressed: nothing happened","outcome":"nothing-heard","press":null,"numbersUnheard":0,"shiftMs":-3600000}""",
                """{"record":"note","note":2,"time":null,"where":null,"node":null,"words":"rain","outcome":"remark","press":null,"numbersUnheard":null,"shiftMs":-3600000}""",
            ], Lines.Of(_story.History, RecordKind.Note));
    }
}
