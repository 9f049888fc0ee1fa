using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;
using MeshTrace.Reports.Page;
using MeshTrace.Reports.Page.Charts;
using MeshTrace.Reports.Tests.Support;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Tests.Page;

/// <summary>The page stays one that a phone opens, however much there is, and says what it left out.</summary>
public sealed class PageSizeTests
{
    private const int Presses = 50_000, MostOctets = 2 << 20;

    [Fact]
    public void FiftyThousandPresses_GiveAPageOfBoundedSize()
    {
        CaptureHistory history = Long();
        byte[] page = PageReading.Octets(history);
        Assert.True(page.Length < MostOctets, $"{page.Length} octets");
        AngleSharp.Dom.IDocument document = PageReading.Parse(System.Text.Encoding.UTF8.GetString(page));
        Assert.Equal(PressPart.MostRows, document.QuerySelectorAll("#presses tbody tr").Length);
        Assert.Contains("49,000 presses left out here", document.QuerySelector("#presses")!.TextContent, StringComparison.Ordinal);
        Assert.Contains("260 nodes left out here", document.QuerySelector("#timeline")!.TextContent, StringComparison.Ordinal);
        Assert.InRange(document.QuerySelectorAll("#timeline .place.press").Length, 1, 5000);
        Assert.Contains("share a mark", document.QuerySelector("#timeline")!.TextContent, StringComparison.Ordinal);
    }

    [Fact]
    public void LostPresses_StayBeforeThoseThatAllIsWellWith()
    {
        List<Press> presses = [.. Enumerable.Range(0, 3000).Select(at => Story.Press(at % 10 == 0 ? PressOutcome.None : PressOutcome.All, [9], [], timeNs: Story.Begin + at))];
        List<int> rows = PressPart.Chosen(presses);
        Assert.Equal(PressPart.MostRows, rows.Count);
        Assert.Equal(300, rows.Count(row => presses[row].Outcome == PressOutcome.None));
        Assert.Equal(rows.Order(), rows);
    }

    [Fact]
    public void Lanes_ShowTheWorstOfPressesThatShareAMark()
    {
        CaptureHistory history = Long();
        TimelineLanes lanes = TimelineLanes.Of(new Account(history, new NameBook(history), null), history.TimeSpanNs!.Value, CancellationToken.None);
        Assert.True(lanes.IsMerged);
        Assert.Equal(TimelineLanes.MostLanes, lanes.Nodes.Count);
        Assert.Equal(history.Presses.Count(press => lanes.Nodes.Contains(press.Src)), lanes.Marks.Sum(mark => mark.Count));
        Assert.Contains(lanes.Marks, mark => mark.Count > 1 && history.Presses[mark.Worst].Outcome == PressOutcome.None && history.Presses[mark.Last].Outcome == PressOutcome.All);
    }

    /// <summary>300 nodes and 50,000 presses in a day, each 49th lost.</summary>
    private static CaptureHistory Long()
    {
        var story = new Story();
        story.Message(0x0003, 0xC001, 100, [0x82, 0x02, 0x01, 0x07], flood: story.Flood(0x0003, 0xC001, 100, [0x66]));
        CaptureHistory history = story.History;
        history.Nodes = [.. Enumerable.Range(1, 300).Select(at => new NodeRecord { Unicast = new MeshAddress((ushort)at), FloodsSent = at })];
        history.Presses = [.. Enumerable.Range(0, Presses).Select(at => Story.Press(at % 49 == 0 ? PressOutcome.None : PressOutcome.All, [9, 10], [9, 10], src: (ushort)(1 + (at % 300)), timeNs: Story.Begin + (at * (86_400 * Story.Second / Presses))))];
        history.TimeSpanNs = (Story.Begin, Story.Begin + (86_400 * Story.Second));
        return history;
    }
}
