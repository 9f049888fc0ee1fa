using System.Globalization;
using MeshTrace.Protocol.Link;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Tests.Words;

public sealed class PhrasesTests
{
    [Theory]
    [InlineData(0, "0 frames"), InlineData(1, "1 frame"), InlineData(48210, "48,210 frames")]
    public void Count_HasItsPlural(long count, string words) => Assert.Equal(words, Phrases.Count(count, "frame"));

    [Theory]
    [InlineData(0, "0 %")]
    [InlineData(0.0004, "under 0.1 %")]     // a little is never shown as nothing
    [InlineData(0.004, "0.4 %")]
    [InlineData(0.021, "2.1 %")]
    [InlineData(0.33, "33 %")]
    [InlineData(0.997, "99.7 %")]           // nor nearly all as all
    [InlineData(0.9999, "over 99.9 %")]
    [InlineData(1, "100 %")]
    public void Percent_NeverRoundsToNothingOrAll(double share, string words) => Assert.Equal(words, Phrases.Percent(share));

    [Theory]
    [InlineData(0.4, "0.4 ms"), InlineData(41.25, "41 ms"), InlineData(999, "999 ms"), InlineData(1400, "1.4 s"), InlineData(59_400, "59 s")]
    [InlineData(125_000, "2 min 5 s"), InlineData(120_000, "2 min"), InlineData(10_920_000, "3 h 2 min"), InlineData(187_200_000, "2 d 4 h")]
    public void Duration_InTheUnitOneWouldSay(double ms, string words) => Assert.Equal(words, Phrases.Duration(ms));

    [Theory]
    [InlineData(0b0, ""), InlineData(0b1, "0"), InlineData(0b10001111, "0-3, 7"), InlineData(0xFFFFFFFF, "0-31"), InlineData(0x80000001, "0, 31")]
    public void Runs_OfSegments(uint bits, string words) => Assert.Equal(words, Phrases.Runs(bits));

    [Fact]
    public void List_AsOneSaysIt()
    {
        Assert.Equal("", Phrases.List([]));
        Assert.Equal("a", Phrases.List(["a"]));
        Assert.Equal("a and b", Phrases.List(["a", "b"]));
        Assert.Equal("a, b and c", Phrases.List(["a", "b", "c"]));
        Assert.Equal("a, b and 2 more", Phrases.List(["a", "b", "c", "d"], 3));
        Assert.Equal("a, b and c", Phrases.List(["a", "b", "c"], 3));
    }

    [Fact]
    public void Clock_OfNoTime_IsDashes()
    {
        Assert.Equal("--:--:--", Phrases.Clock(CapturedFrame.NoTime));
        Assert.Null(Phrases.Day(CapturedFrame.NoTime));
        Assert.Equal("18:00:00", Phrases.Clock(Support.Story.Begin));
        Assert.Equal("2026-03-02", Phrases.Day(Support.Story.Begin));
        Assert.Equal("23:59:59", Phrases.Clock(-1));
    }

    /// <summary>As the library's calendar has it, before 1970 and to the ends of what nanoseconds in 64 bits hold; the same day has the same number.</summary>
    [Fact]
    public void ClockAndDay_AreThoseOfTheCalendar()
    {
        var random = new Random(5);
        long[] times = [0, -1, 1, 999_999_999, -86_400_000_000_000, 86_399_999_999_999, 86_400_000_000_000, long.MaxValue, -9_223_372_036_854_775_000, .. Enumerable.Range(0, 2_000).Select(_ => random.NextInt64(long.MinValue, long.MaxValue))];
        foreach (long timeNs in times)
        {
            DateTimeOffset time = DateTimeOffset.UnixEpoch.AddTicks((long)Math.Floor(timeNs / 100m));
            Assert.Equal(time.ToString("HH:mm:ss", CultureInfo.InvariantCulture), Phrases.Clock(timeNs));
            Assert.Equal(time.ToString("yyyy-MM-dd", CultureInfo.InvariantCulture), Phrases.Day(timeNs));
            Assert.Equal((long)Math.Floor((time - DateTimeOffset.UnixEpoch).TotalDays), Phrases.DayNumber(timeNs));
        }
        Assert.Null(Phrases.DayNumber(CapturedFrame.NoTime));
    }
}
