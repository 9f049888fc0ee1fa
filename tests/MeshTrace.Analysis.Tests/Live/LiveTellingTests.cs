using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Live;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Live;

/// <summary>When presses of a running history are told, and under which numbers.</summary>
public sealed class LiveTellingTests
{
    private const long Second = 1_000_000_000;

    [Fact]
    public void APressNotAnsweredByAll_IsToldOnceItsTimeHasPassed()
    {
        CaptureHistory history = Presses(0);
        long press = history.Presses[0].TimeNs;
        var telling = new LiveTelling();
        Assert.Empty(telling.TakePresses(history, press));
        Assert.Empty(telling.TakePresses(history, press + LiveTelling.SettlingNs - 1));
        Assert.Equal((1, 0), (telling.Presses, telling.Told));
        Assert.Equal(new ToldPress(1, 0, null), Assert.Single(telling.TakePresses(history, press + LiveTelling.SettlingNs)));
        Assert.Empty(telling.TakePresses(Presses(0), press + (100 * Second)));
        Assert.Equal(1, telling.ToldAs(PressOutcome.Unknown));
    }

    [Fact]
    public void AtTheEnd_EverythingIsTold()
    {
        CaptureHistory history = Presses(0, 20);
        Assert.Equal([1, 2], new LiveTelling().TakePresses(history, history.Presses[0].TimeNs, final: true).Select(told => told.Number));
    }

    [Fact]
    public void WhenTheBeginningLeaves_PressesKeepTheirNumbers()
    {
        var telling = new LiveTelling();
        CaptureHistory first = Presses(0, 100, 200);
        Assert.Equal([1, 2, 3], telling.TakePresses(first, first.Presses[2].TimeNs + LiveTelling.SettlingNs).Select(told => told.Number));
        CaptureHistory later = Presses(100, 200, 300);
        telling.BeginAt(later.TimeSpanNs!.Value.First);
        Assert.Equal(new ToldPress(4, 2, null), Assert.Single(telling.TakePresses(later, later.Presses[2].TimeNs + LiveTelling.SettlingNs)));
        Assert.Equal([2, 3, 4], Enumerable.Range(0, 3).Select(row => telling.NumberOf(later, row)));
    }

    [Fact]
    public void WhatIsLeftOfAPressAtTheBeginning_IsNoPressOfItsOwn()
    {
        var telling = new LiveTelling();
        CaptureHistory whole = SentTwice(from: 0);
        Assert.Single(whole.Presses);
        Assert.Single(telling.TakePresses(whole, long.MaxValue));
        CaptureHistory rest = SentTwice(from: 1);
        Assert.Single(rest.Presses);
        telling.BeginAt(rest.TimeSpanNs!.Value.First);
        Assert.Empty(telling.TakePresses(rest, long.MaxValue));
        Assert.Equal(1, telling.Presses);
    }

    [Fact]
    public void AFindingNotAboutAPress_IsToldOnce_WhenItHasStoodForAWhile()
    {
        CaptureHistory history = Healthless();
        Assert.Contains(history.Findings, finding => finding.Press is null);
        int expected = history.Findings.Count(finding => finding.Press is null);
        var telling = new LiveTelling();
        telling.TakePresses(history, 0);
        Assert.DoesNotContain(telling.TakeFindings(history, 0), row => history.Findings[row].Press is null);
        Assert.Equal(expected, telling.TakeFindings(history, LiveTelling.SettlingNs).Count(row => history.Findings[row].Press is null));
        Assert.Empty(telling.TakeFindings(history, 2 * LiveTelling.SettlingNs));
        Assert.Equal(expected, telling.Findings);
    }

    /// <summary>Presses at these seconds, each with a TID and sequence number of its own.</summary>
    private static CaptureHistory Presses(params int[] seconds)
    {
        var air = new AirBuilder();
        foreach (int at in seconds)
            air.Access(at * 1000, 5, (uint)(100 + at), 0x0003, 0xC001, "820201" + (at / 10).ToString("x2", System.Globalization.CultureInfo.InvariantCulture));
        return air.Analyse();
    }

    /// <summary>One transaction, sent again a second later.</summary>
    private static CaptureHistory SentTwice(int from)
    {
        var air = new AirBuilder();
        for (int at = from; at < 2; at++)
            air.Access(at * 1000, 5, (uint)(100 + at), 0x0003, 0xC001, "82020101");
        return air.Analyse();
    }

    /// <summary>SEQ goes down without a new IV index: the standard forbids it (Mesh Protocol 1.1 §3.9.8), and no press is needed to see it.</summary>
    private static CaptureHistory Healthless()
    {
        var air = new AirBuilder();
        for (int at = 0; at < 20; at++)
            air.Access(at * 1000, 5, (uint)(at < 10 ? 1000 + at : 10 + at), 0x0003, 0xC001, "8204" + (at % 2).ToString("x2", System.Globalization.CultureInfo.InvariantCulture));
        return air.Analyse();
    }
}
