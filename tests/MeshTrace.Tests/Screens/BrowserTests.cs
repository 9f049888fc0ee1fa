using MeshTrace.Screens.Reading;
using MeshTrace.Analysis.History;
using System.Text.Json;
using MeshTrace.Analysis.Presses;
using MeshTrace.Reports.Words;
using MeshTrace.Screens;
using MeshTrace.Tests.Screens.Support;

namespace MeshTrace.Tests.Screens;

public sealed class BrowserTests
{
    public static TheoryData<string, int, int> DemosAndSizes => new() { { "library", 80, 24 }, { "library", 140, 40 }, { "boathouse", 80, 24 }, { "boathouse", 203, 57 } };

    [Theory, MemberData(nameof(DemosAndSizes))]
    public void EveryRowOfEveryScreen_FitsTheTerminal(string demo, int columns, int lines)
    {
        Browser browser = Demo.Browse(Demo.Settled(demo));
        for (int screen = 0; screen < browser.Screens.Count; screen++)
        {
            browser.GoTo(screen);
            for (int row = 0; row < Math.Min(60, browser.Current.RowCount); row++)
            {
                browser.Current.Selected = row;
                IReadOnlyList<TextLine> drawn = browser.Compose(columns, lines);
                Assert.Equal(lines, drawn.Count);
                Assert.All(drawn, line => Assert.True(line.Width <= columns, $"{browser.Current.Name}, row {row}: {line}"));
                Assert.Single(drawn, line => line.Selected);
                Assert.NotEmpty(drawn[^1].ToString());
            }
        }
    }

    [Fact]
    public void Opens_OnTheFirstLostPress_WithItsAccount()
    {
        string text = Demo.Browse(Demo.Settled()).Text();
        Press lost = Demo.Library.Presses.First(press => press.Outcome is PressOutcome.None or PressOutcome.Some);
        Assert.StartsWith("[1 Presses]", text, StringComparison.Ordinal);
        Assert.Contains($"\n> {Phrases.Clock(lost.TimeNs)}", text, StringComparison.Ordinal);
        Assert.Contains($"{Moment.Milli(lost.TimeNs)} ", text, StringComparison.Ordinal);
    }

    [Fact]
    public void FromALostPress_ToTheHopWhereItDied_TakesTwoKeys()
    {
        Browser browser = Demo.Browse(Demo.Settled());
        browser.Take('n', Motion.Enter);
        string text = browser.Text();
        Assert.Contains("[3 Hops]", text, StringComparison.Ordinal);
        Assert.Contains("How did this press spread, and where did it end?", text, StringComparison.Ordinal);
        Assert.Contains("END  Its TTL was used up after 1 hop", text, StringComparison.Ordinal);    // the demo's panel publishes with a TTL too low for the stairs
        Assert.Contains("stairs lamp 1", text, StringComparison.Ordinal);
        browser.Take(Motion.Escape);
        Assert.Equal("Presses", browser.Current.Name);
    }

    /// <summary>Any thing on any screen opens its octets, unless none of it was heard; and who comes back finds the row that was left.</summary>
    [Theory, InlineData("library"), InlineData("boathouse")]
    public void EveryRowOpensItsOctets(string demo)
    {
        Browser browser = Demo.Browse(Demo.Settled(demo));
        int octets = browser.Screens.Count - 1, opened = 0;
        for (int screen = 0; screen < octets; screen++)
        {
            browser.GoTo(screen);
            for (int row = 0; row < browser.Current.RowCount; row++)
            {
                browser.Current.Selected = row;
                string at = browser.Text().Split('\n').First(line => line.StartsWith('>'));
                browser.Take('x');
                if (browser.Current != browser.Screens[octets])
                {
                    Assert.True(at.Contains("not heard", StringComparison.Ordinal) || screen == 1, at);      // a lane of a node that was not heard is empty
                    continue;
                }
                opened++;
                browser.Take(Motion.Escape);
                Assert.Equal(at, browser.Text().Split('\n').First(line => line.StartsWith('>')));
            }
        }
        Assert.True(opened > 50, $"{opened} opened");
    }

    [Fact]
    public void Narrowing_IsAlwaysShown_AndUndoneByOneKey()
    {
        Workspace workspace = Demo.Settled();
        Browser browser = Demo.Browse(workspace);
        int all = browser.Current.RowCount;
        browser.Take('o', 'g');
        Assert.InRange(browser.Current.RowCount, 1, all - 1);
        for (int screen = 0; screen < browser.Screens.Count; screen++)
        {
            browser.GoTo(screen);
            Assert.Contains("ONLY group Stairs (0xC002)", browser.Text().Split('\n')[1], StringComparison.Ordinal);
        }
        browser.Take('u');
        browser.GoTo(0);
        Assert.Equal(all, browser.Current.RowCount);
        Assert.DoesNotContain("ONLY", browser.Text(), StringComparison.Ordinal);
    }

    /// <summary>However much it says, the key that undoes it stands there; whole seconds go without their zeros.</summary>
    [Theory, InlineData("entrance panel"), InlineData("a panel with a name that takes much more room than there is on a line of 80 columns"), InlineData("לוח כניסה ליד הדלת של חדר הקריאה הגדול בקומה הראשונה של הספרייה העירונית")]
    public void ALongNarrowing_LeavesRoomForItsUndoing(string name)
    {
        (CaptureHistory history, NodeTracks tracks) = Demo.Analyse("library", json => json.Replace("\"entrance panel\"", $"\"{name}\"", StringComparison.Ordinal));
        var workspace = new Workspace();
        workspace.Settle(history, tracks);
        Browser browser = Demo.Browse(workspace);
        browser.Take('o', 'n', 't');
        browser.Type("17:40-18:00");
        browser.Take(Motion.Enter);
        string line = browser.Text().Split('\n')[1];
        Assert.EndsWith("   u: everything", line, StringComparison.Ordinal);
        Assert.True(DisplayWidth.Of(line) <= 80, line);
        Assert.Equal(line.Count(letter => letter == '\u2068'), line.Count(letter => letter == '\u2069'));
        Assert.Equal(name.Length < 20, line.Contains("17:40:00 to 18:00:00", StringComparison.Ordinal));
    }

    [Fact]
    public void OnlyThisNode_KeepsThePressesThatConcernIt()
    {
        Workspace workspace = Demo.Settled();
        Browser browser = Demo.Browse(workspace);
        browser.Take('o', 'n');
        int expected = Demo.Library.Presses.Count(press => workspace.History.Directory.NodeOf(press.Src) == workspace.Only.Node);
        Assert.Equal(expected, browser.Current.RowCount);
    }

    [Fact]
    public void TimeRange_IsAskedFor_AndWrongOnesAreTold()
    {
        Browser browser = Demo.Browse(Demo.Settled());
        browser.Take('t');
        browser.Type("18:40-19:00");
        browser.Take(Motion.Enter);
        Assert.Equal(Demo.Library.Presses.Count(press => string.CompareOrdinal(Phrases.Clock(press.TimeNs), "18:40:00") >= 0 && string.CompareOrdinal(Phrases.Clock(press.TimeNs), "19:00:00") < 0),
            browser.Current.RowCount);
        browser.Take('t');
        browser.Type("soon");
        browser.Take(Motion.Enter);
        Assert.Contains("'soon' is no time", browser.Text(), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("gallery", "Gallery")]
    [InlineData("0xC004", "Gallery")]
    [InlineData("nobody-subscribed", "Gallery")]
    [InlineData("desk lightness", "lig")]
    public void Find_GoesToTheNextRowWithAllWords(string words, string row)
    {
        Browser browser = Demo.Browse(Demo.Settled());
        browser.Take('f');
        browser.Type(words);
        browser.Take(Motion.Enter);
        Assert.Contains(browser.Compose(80, 24), line => line.Selected && line.ToString().Contains(row, StringComparison.Ordinal));
    }

    [Fact]
    public void Find_TellsWhereElseTheWordsAre()
    {
        Browser browser = Demo.Browse(Demo.Settled());
        browser.Take('f');
        browser.Type("0x37");
        browser.Take(Motion.Enter);
        Assert.Contains("is not here, but on Network", browser.Text(), StringComparison.Ordinal);
        browser.Take('f');
        browser.Take(Motion.Back, Motion.Back, Motion.Back, Motion.Back);
        browser.Type("kraken");
        browser.Take(Motion.Enter);
        Assert.Contains("'kraken' is nowhere", browser.Text(), StringComparison.Ordinal);
    }

    [Fact]
    public void Help_ListsTheKeysOfTheScreenInFront()
    {
        Browser browser = Demo.Browse(Demo.Settled());
        for (int screen = 0; screen < browser.Screens.Count; screen++)
        {
            browser.GoTo(screen);
            browser.Take('?');
            string help = browser.Text(100, 60);
            Assert.All(browser.Current.Keys, key => Assert.Contains(key.Key, help, StringComparison.Ordinal));
            Assert.Contains("On every screen", help, StringComparison.Ordinal);
            browser.Take(Motion.Escape);
            Assert.DoesNotContain("On every screen", browser.Text(100, 60), StringComparison.Ordinal);
        }
    }

    [Fact]
    public void Copy_GivesTheRecordOfTheSelectedThing()
    {
        string clipped = "";
        (string File, string Text) saved = default;
        Browser browser = Demo.Browse(Demo.Settled(), new Outlets(text => clipped = text, (file, text) =>
        {
            saved = (file, text);
            return "Written.";
        }));
        browser.Take('c');
        using JsonDocument record = JsonDocument.Parse(clipped);
        Assert.Equal("press", record.RootElement.GetProperty("record").GetString());
        Assert.Equal("0xC002", record.RootElement.GetProperty("dst").GetString());
        browser.Take('w', Motion.Enter);
        Assert.Equal(($"press-{record.RootElement.GetProperty("press").GetInt32()}.json", clipped), saved);
        Assert.Contains("Written.", browser.Text(), StringComparison.Ordinal);
    }

    [Theory, InlineData(79, 24), InlineData(80, 23), InlineData(20, 5), InlineData(3, 2), InlineData(0, 0)]
    public void TooSmall_IsSaid(int columns, int lines)
    {
        Browser browser = Demo.Browse(Demo.Settled());
        IReadOnlyList<TextLine> drawn = browser.Compose(columns, lines);
        Assert.Equal(lines, drawn.Count);
        Assert.All(drawn, line => Assert.True(line.Width <= columns));
        if (columns >= 30)
            Assert.Contains("MeshTrace needs 80 x 24", drawn[0].ToString(), StringComparison.Ordinal);
        browser.Take('q');
        Assert.True(browser.IsDone);
    }

    [Fact]
    public void Clicks_ChooseScreensAndRows()
    {
        Browser browser = Demo.Browse(Demo.Settled());
        IReadOnlyList<TextLine> drawn = browser.Compose(80, 24);
        browser.Click(5, 4, twice: false);
        Assert.Contains(drawn[4].ToString().Trim('>', ' ')[..8], browser.Compose(80, 24).Single(line => line.Selected).ToString(), StringComparison.Ordinal);
        browser.Click(drawn[0].ToString().IndexOf("6 Network", StringComparison.Ordinal) + 2, 0, twice: false);
        Assert.Equal("Network", browser.Current.Name);
    }

    [Fact]
    public void AnyKeysInAnyOrder_DoNoHarm()
    {
        const string letters = "1234567abcfgknNopstuwxz.0+-<>[]?/ 18:";
        Motion[] motions = Enum.GetValues<Motion>();
        var random = new Random(20261125);      // the same keys in every run
        foreach (string demo in (string[])["library", "boathouse"])
        {
            Browser browser = Demo.Browse(Demo.Settled(demo));
            for (int i = 0; i < 3000; i++)
            {
                Stroke stroke = random.Next(3) == 0 ? motions[random.Next(1, motions.Length)] : letters[random.Next(letters.Length)];
                browser.Take(stroke);
                if (i % 7 == 0)
                    Assert.All(browser.Compose(80, 24), line => Assert.True(line.Width <= 80, line.ToString()));
            }
        }
    }
}
