using System.Security.Cryptography;
using System.Text;
using System.Text.RegularExpressions;
using AngleSharp.Dom;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access;
using MeshTrace.Reports.Page;
using MeshTrace.Reports.Tests.Support;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Tests.Page;

/// <summary>The page as a browser and a screen reader find it.</summary>
public sealed partial class CapturePageTests
{
    private static readonly Lazy<IDocument> Page = new(() => PageReading.Read(PageStory.Of()));

    [Fact]
    public void Parts_StandInTheirOrder_EachWithItsHeading()
    {
        List<IElement> sections = [.. Page.Value.QuerySelectorAll("main > section")];
        Assert.Equal(CapturePage.Parts.Select(part => part.Id), sections.Select(section => section.Id));
        Assert.All(sections, section => Assert.Equal(CapturePage.Parts.First(part => part.Id == section.Id).Heading, section.QuerySelector("h2")!.TextContent));
        Assert.Equal(CapturePage.Parts.Select(part => "#" + part.Id), Page.Value.QuerySelectorAll("nav a").Select(link => link.GetAttribute("href")));
    }

    [Fact]
    public void EmptyHistory_StillGivesEveryPart()
    {
        var history = new CaptureHistory { Keys = new MeshTrace.Analysis.Keys.KeyRing() };
        IDocument page = PageReading.Read(history);
        Assert.Equal(CapturePage.Parts.Count, page.QuerySelectorAll("main > section").Length);
        Assert.All(page.QuerySelectorAll("main > section"), section => Assert.True(section.Children.Length > 1, section.Id));
    }

    [Fact]
    public void Headings_DescendWithoutGaps()
    {
        Assert.Equal("en", Page.Value.DocumentElement.GetAttribute("lang"));
        Assert.Single(Page.Value.QuerySelectorAll("h1"));
        int level = 0;
        foreach (IElement heading in Page.Value.QuerySelectorAll("h1,h2,h3,h4"))
        {
            int next = heading.LocalName[1] - '0';
            Assert.True(next <= level + 1, $"'{heading.TextContent}' is an {heading.LocalName} after an h{level}");
            Assert.NotEmpty(heading.TextContent);
            level = next;
        }
    }

    [Fact]
    public void Tables_HaveCaptionsAndHeadersWithScope()
    {
        IHtmlCollection<IElement> tables = Page.Value.QuerySelectorAll("table");
        Assert.True(tables.Length >= 6, $"{tables.Length} tables");
        foreach (IElement table in tables)
        {
            Assert.NotEmpty(table.QuerySelector("caption")!.TextContent);
            Assert.All(table.QuerySelectorAll("thead th"), header => Assert.Equal("col", header.GetAttribute("scope")));
            Assert.All(table.QuerySelectorAll("tbody tr"), row =>
            {
                Assert.Equal("row", row.FirstElementChild!.GetAttribute("scope"));
                Assert.Equal(table.QuerySelectorAll("thead th").Length, row.Children.Length);
            });
        }
    }

    [Fact]
    public void Drawings_HaveTitleAndDescription()
    {
        IHtmlCollection<IElement> drawings = Page.Value.QuerySelectorAll(".drawing > svg");
        Assert.NotEmpty(drawings);
        foreach (IElement drawing in drawings)
        {
            Assert.Equal("img", drawing.GetAttribute("role"));
            string[] labels = drawing.GetAttribute("aria-labelledby")!.Split(' ');
            Assert.Equal(2, labels.Length);
            Assert.All(labels, label => Assert.NotEmpty(Page.Value.GetElementById(label)!.TextContent));
        }
    }

    [Fact]
    public void Identifiers_AreUnique()
    {
        List<string> ids = [.. Page.Value.QuerySelectorAll("[id]").Select(element => element.Id!)];
        Assert.Equal(ids.Distinct().Count(), ids.Count);
    }

    [Fact]
    public void Policy_AllowsTheOwnStyleAndScript_AndNothingElse()
    {
        string policy = Page.Value.QuerySelector("meta[http-equiv='Content-Security-Policy']")!.GetAttribute("content")!;
        Assert.StartsWith("default-src 'none';", policy, StringComparison.Ordinal);
        Assert.DoesNotContain("unsafe", policy, StringComparison.Ordinal);
        foreach (string kind in (string[])["style", "script"])
        {
            string text = Assert.Single(Page.Value.QuerySelectorAll(kind)).TextContent;
            string hash = Convert.ToBase64String(SHA256.HashData(Encoding.UTF8.GetBytes(text)));
            Assert.Contains($"{kind}-src 'sha256-{hash}'", policy, StringComparison.Ordinal);
        }
        Assert.Empty(Page.Value.QuerySelectorAll("[style],[onclick],[onload],[src],iframe,object,embed,base,form,img,image,use"));
    }

    [Fact]
    public void Addresses_OfTheWebAreNoneButTheNamespaceOfDrawings()
    {
        string page = PageReading.Text(PageStory.Of());
        Assert.All(WebAddress().Matches(page), match => Assert.Equal("http://www.w3.org/2000/svg", match.Value));
        Assert.DoesNotContain("@import", page, StringComparison.Ordinal);
        Assert.All(CssAddress().Matches(page), match => Assert.StartsWith("url(#", match.Value, StringComparison.Ordinal));
        Assert.All(PageReading.Parse(page).QuerySelectorAll("[href]"), link => Assert.Matches("^(#[a-z]+|data:,)$", link.GetAttribute("href")));
    }

    [Fact]
    public void Press_StandsInTheTableWithItsFateInAWord()
    {
        string[] cells = [.. Page.Value.QuerySelectorAll("#presses tbody tr").Single().Children.Select(cell => cell.TextContent)];
        Assert.Equal(["1", "18:00:00", "PART", "entrance panel", "entrance panel", "on", "1 of 2, 141 ms", "0x000A"], cells[..8]);
    }

    [Fact]
    public void RepeatedMessages_StandWithWhoRepeatsThem() =>
        Assert.Contains(Page.Value.QuerySelectorAll("#repeats tbody tr"), row => row.TextContent.EndsWith("its publication (Publish Retransmit)13", StringComparison.Ordinal));

    [Fact]
    public void Heartbeats_StandWithTheirHops()
    {
        var story = new Story();
        int flood = story.Flood(0x0003, 0xC001, 100, [0x0A], new FloodCopy(story.Frame(), 5), new FloodCopy(story.Frame(), 3));
        story.History.Messages[story.Message(0x0003, 0xC001, 100, [0x05, 0x00, 0x01], control: true, flood: flood)].Opcode = new Opcode(0x0A);    // InitTTL 5
        string[] cells = [.. PageReading.Read(story.History).QuerySelectorAll("#hops tbody tr").Single().Children.Select(cell => cell.TextContent)];
        Assert.Equal(["0x0003", "1", "5", "1", "3"], cells);
    }

    [Fact]
    public void Finding_StandsWithRemedyAndEvidence()
    {
        string findings = Page.Value.QuerySelector("#findings")!.TextContent;
        Assert.Contains("Fault (likely), nobody-subscribed", findings, StringComparison.Ordinal);
        Assert.Contains("What to do: Add the subscription.", findings, StringComparison.Ordinal);
        Assert.Contains("It rests on press 1.", findings, StringComparison.Ordinal);
    }

    [Fact]
    public void Names_AllComeFromOnePlace()
    {
        string page = PageReading.Text(PageStory.Of("entrance panel"), new Hidden());
        foreach (string known in (string[])["entrance panel", "0x0003", "0xC001", "0x0009", "C3:B7:0A:4E:11:01"])
            Assert.DoesNotContain(known, page, StringComparison.Ordinal);
        Assert.Contains("node 3", page, StringComparison.Ordinal);
    }

    [Fact]
    public void Keys_AreNotOnThePage()
    {
        string page = PageReading.Text(PageStory.Of());
        Assert.DoesNotContain(Convert.ToHexString(Story.NetKey), page, StringComparison.OrdinalIgnoreCase);
        Assert.DoesNotContain(Convert.ToBase64String(Story.NetKey), page, StringComparison.Ordinal);
    }

    [Fact]
    public void SamePage_FromTheSameHistory() => Assert.Equal(PageReading.Octets(PageStory.Of()), PageReading.Octets(PageStory.Of()));

    [Fact]
    public void Stop_EndsTheWriting()
    {
        using var stop = new CancellationTokenSource();
        stop.Cancel();
        using var output = new MemoryStream();
        Assert.Throws<OperationCanceledException>(() => CapturePage.Write(PageStory.Of(), output, new PageSettings { ProgramVersion = "1" }, stop.Token));
    }

    /// <summary>The README's cautions, as far as a page is concerned.</summary>
    [Fact]
    public void Cautions_AreOnThePage() => Assert.Equal(CautionPart.All, Page.Value.QuerySelectorAll("#cautions li").Select(item => item.TextContent));

    [Theory]
    [InlineData(PressOutcome.All, "good")]
    [InlineData(PressOutcome.Some, "mixed")]
    [InlineData(PressOutcome.None, "bad")]
    [InlineData(PressOutcome.Unknown, "quiet")]
    public void Fates_HaveAShapeOfTheirOwnOnTheTimeline(PressOutcome outcome, string kind)
    {
        CaptureHistory history = PageStory.Of();
        history.Presses = [Story.Press(outcome, [0x0009], [])];
        IElement mark = Assert.Single(PageReading.Read(history).QuerySelectorAll("#timeline .place.press"));
        Assert.True(mark.ClassList.Contains(kind));
        Assert.Contains(PressSection.MarkOf(outcome), mark.QuerySelector("title")!.TextContent, StringComparison.Ordinal);
    }

    [Fact]
    public void DeafTimesAndNotes_StandInTheBandOnTop()
    {
        Assert.Contains("Deaf from 17:59:59 to 17:59:59", Assert.Single(Page.Value.QuerySelectorAll("#timeline .deaf title")).TextContent, StringComparison.Ordinal);
        Assert.Contains("Note at 18:00:00: entrance panel rain", Assert.Single(Page.Value.QuerySelectorAll("#timeline .note-mark title")).TextContent, StringComparison.Ordinal);
        Assert.Contains("nothing from anyone", Page.Value.QuerySelector("#method")!.TextContent, StringComparison.Ordinal);
    }

    /// <summary>A capture may claim any times: they are what its file says.</summary>
    [Theory]
    [InlineData(long.MinValue + 1, long.MaxValue)]
    [InlineData(long.MaxValue, long.MaxValue)]
    [InlineData(long.MinValue + 1, long.MinValue + 1)]
    [InlineData(Story.Begin, Story.Begin)]
    [InlineData(-1, 1)]
    public void Times_MayBeAny(long firstNs, long lastNs)
    {
        CaptureHistory history = PageStory.Of();
        history.TimeSpanNs = (firstNs, lastNs);
        Assert.InRange(PageReading.Read(history).QuerySelectorAll("#timeline .tick").Length, 0, 10);
    }

    [GeneratedRegex("(https?:)?//[a-z][^\\s'\"<)]*")]
    private static partial Regex WebAddress();

    [GeneratedRegex("url\\([^)]*")]
    private static partial Regex CssAddress();

    /// <summary>Numbers in place of addresses, and nothing of what sentences name.</summary>
    private sealed partial class Hidden : INames
    {
        public string Short(MeshAddress address) => $"node {address.Value}";
        public string Full(MeshAddress address) => Short(address);
        public string Address(MeshAddress address) => $"no. {address.Value}";
        public string InText(string text) => Known().Replace(text, "hidden");

        [GeneratedRegex("entrance panel|0x[0-9A-F]{4}|([0-9A-F]{2}:){5}[0-9A-F]{2}")]
        private static partial Regex Known();
    }
}
