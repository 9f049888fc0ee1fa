using System.Text;
using CsCheck;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;
using MeshTrace.Reports.Words;
using MeshTrace.Screens;

namespace MeshTrace.Tests.Screens;

/// <summary>The small parts that the screens are made of.</summary>
public sealed class PartsTests
{
    private const long Noon = 1_772_452_800_000_000_000;     // 2026-03-02 12:00:00 UTC

    [Fact]
    public void PaneLayout_GivesEveryLineToOnePart() =>
        Gen.Select(Gen.Int[80, 250], Gen.Int[24, 90], Gen.Int[0, 2], Gen.Int[0, 5000], Gen.Int[0, 500], Gen.Double[0.2, 0.8]).Sample((columns, lines, heading, rows, account, share) =>
        {
            PaneLayout layout = PaneLayout.Of(columns, lines, heading, rows, share, account);
            Assert.Equal(2, layout.Heading);
            Assert.Equal(2 + heading, layout.Rows);
            Assert.True(layout.RowLines >= 3 && layout.AccountLines >= 4);
            Assert.Equal(layout.Rows + layout.RowLines + 1, layout.Account);
            Assert.Equal(lines - 1, layout.Last);
            Assert.Equal(layout.Last, layout.Account + layout.AccountLines);
        });

    [Theory]
    [InlineData(0, "12:00:00.000")]
    [InlineData(113_000_000, "12:00:00.113")]
    [InlineData(-1, "11:59:59.999")]
    public void Moment_ShowsMilliseconds(long ns, string text) => Assert.Equal(text, Moment.Milli(Noon + ns));

    [Fact]
    public void Moment_WithoutTime_ShowsDashes()
    {
        Assert.Equal("--:--:--.---", Moment.Milli(CapturedFrame.NoTime));
        Assert.Equal("", Moment.After(CapturedFrame.NoTime, Noon));
    }

    [Theory]
    [InlineData(0, 1_100_000, "+1.1 ms")]
    [InlineData(1_100_000, 0, "-1.1 ms")]
    [InlineData(0, 2_410_000_000, "+2.41 s")]
    [InlineData(0, 125_000_000_000, "+2 min 5 s")]
    public void Moment_TellsDistances(long from, long to, string text) => Assert.Equal(text, Moment.After(Noon + from, Noon + to));

    [Theory]
    [InlineData("12:30-13:00", 30, 60)]
    [InlineData("12:30:00 - 12:30:30", 30, 30.5)]
    [InlineData("12:45", 44.5, 45.5)]
    [InlineData("0:10-0:20", 730, 740)]        // the day after
    public void Moment_ReadsRanges(string text, double fromMinutes, double toMinutes)
    {
        Assert.True(Moment.TryRange(text, (Noon, Noon + (14 * 3_600_000_000_000)), out (long From, long To) range));
        Assert.Equal(Noon + (long)(fromMinutes * 60e9), range.From);
        Assert.Equal(Noon + (long)(toMinutes * 60e9), range.To);
    }

    [Theory, InlineData(""), InlineData("noon"), InlineData("12:30-"), InlineData("25:00"), InlineData("-")]
    public void Moment_RefusesWhatIsNoTime(string text) => Assert.False(Moment.TryRange(text, (Noon, Noon + 1), out _));

    [Fact]
    public void TimeWindow_NeverLeavesTheWhole_AndKeepsItsPlace() =>
        Gen.Select(Gen.Long[1_000_000, 100_000_000_000], Gen.Double[0, 1], Gen.Int[0, 40], Gen.Int[20, 200]).Sample((length, share, zooms, columns) =>
        {
            var whole = new TimeWindow(Noon, Noon + length);
            TimeWindow window = whole;
            long around = Noon + (long)(length * share);
            for (int i = 0; i < zooms; i++)
                window = window.Zoom(i % 3 == 2 ? 4 : 0.25, around, whole);
            Assert.True(window.FromNs >= whole.FromNs && window.ToNs <= whole.ToNs);
            Assert.True(window.LengthNs >= Math.Min(TimeWindow.ShortestNs, whole.LengthNs));
            int column = window.ColumnOf(around, columns);
            Assert.InRange(column, 0, columns - 1);
            Assert.True(window.TimeOf(column, columns) <= around);
            Assert.True(window.Show(Noon, whole).ColumnOf(Noon, columns) >= 0);
        });

    [Theory]
    [InlineData("plain words", 5, "plai…")]
    [InlineData("入口パネル", 5, "入口…")]
    [InlineData("fits", 4, "fits")]
    public void TextLine_IsCutByColumns(string text, int columns, string cut) => Assert.Equal(cut, TextLine.Of(new Cell(text)).Cut(columns).ToString());

    [Fact]
    public void TextLine_IsNeverWiderThanItWasCutTo()
    {
        string[] words = ["abc", "入口", "é", "x", "", "👩‍🔧", "abcdef", "パネル", " "];
        Gen.Select(Gen.Int[0, words.Length - 1], Gen.Int[0, words.Length - 1], Gen.Int[1, 12]).Sample((first, second, columns) =>
            Assert.True(TextLine.Of(new Cell(words[first]), new Cell(words[second]), new Cell(words[first])).Cut(columns).Width <= columns));
    }

    [Fact]
    public void Lines_WrapUnderTheWords()
    {
        var lines = new Lines(20);
        lines.Say("one two three four five", "  - ");
        Assert.Equal(["  - one two three", "    four five"], lines.All.Select(line => line.ToString()));
    }

    [Fact]
    public void Prompt_TakesWordsOfAnyScript_AndGivesUp()
    {
        string? taken = null;
        var prompt = new Prompt("Find: ", "", text =>
        {
            taken = text;
            return "done";
        });
        foreach (Rune rune in "入口 b👩".EnumerateRunes())
            Assert.False(prompt.Take(new Stroke(Motion.None, rune), out _));
        prompt.Take(Motion.Back, out _);
        Assert.Equal("入口 b", prompt.Text);
        Assert.True(prompt.Take(Motion.Enter, out string? says));
        Assert.Equal(("入口 b", "done"), (taken, says));
        Assert.True(new Prompt("", "x", _ => throw new InvalidOperationException("not asked")).Take(Motion.Escape, out _));
    }

    [Fact]
    public void Words_HaveToBeFoundAll_EachAnywhere()
    {
        var words = new Words("c001 lamp", null, null);
        Assert.True(words.AreIn(new MeshAddress(3), new MeshAddress(0xC001), null, "a Lamp"));
        Assert.False(words.AreIn(new MeshAddress(3), new MeshAddress(0xC002), null, "a Lamp"));
        Assert.False(words.AreIn(new MeshAddress(3), new MeshAddress(0xC001), null));
        Assert.False(new Words("  ", null, null).AreIn(new MeshAddress(3), null, null, "anything"));
    }
}
