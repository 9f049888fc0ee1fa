using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Screens;
using MeshTrace.Screens.Reading;
using MeshTrace.Tests.Screens.Support;

namespace MeshTrace.Tests.Screens;

/// <summary>What each screen decides to show, against the history.</summary>
public sealed class ScreenModelTests
{
    [Fact]
    public void Presses_ListsThemAll_InOrder()
    {
        var screen = new PressesScreen(Demo.Settled());
        Assert.Equal(Demo.Library.Presses.Count, screen.RowCount);
        for (int row = 0; row < screen.RowCount; row++)
            Assert.Contains(Demo.Library.Presses[row].Outcome switch { PressOutcome.All => " OK ", PressOutcome.Some => " PART ", PressOutcome.None => " NONE ", _ => " ? " },
                screen.Row(row, 120).ToString(), StringComparison.Ordinal);
    }

    [Fact]
    public void Presses_ShowsWhatIsKnownWhileReading()
    {
        var workspace = new Workspace();
        var screen = new PressesScreen(workspace);
        Assert.Equal(0, screen.RowCount);
        workspace.Tell(new ReadingState(1000, 0.5, [new PressLine(0, "door panel", "Jetty", "on", PressOutcome.None, "direct", "0 of 1")]));
        Assert.Equal(1, screen.RowCount);
        Assert.Contains("door panel", screen.Row(0, 80).ToString(), StringComparison.Ordinal);
        Assert.Contains("needs the whole capture", string.Join(' ', screen.Account(80)), StringComparison.Ordinal);
        Browser browser = Demo.Browse(workspace);
        Assert.Contains("Reading 50 %: 1,000 frames, 1 press so far.", browser.Text(), StringComparison.Ordinal);
        browser.Take('3', 'c', Motion.Enter, 'x', 'o', 't', 'n');
        Assert.Contains("still reading", browser.Text(), StringComparison.OrdinalIgnoreCase);
    }

    [Fact]
    public void Timelines_PutEachLostPressInItsColumn()
    {
        Workspace workspace = Demo.Settled();
        var screen = new TimelinesScreen(workspace);
        screen.Enter();
        screen.Heading(100);
        foreach (IGrouping<MeshAddress, Press> node in Demo.Library.Presses.Where(press => press.Outcome == PressOutcome.None).GroupBy(press => Demo.Library.Directory.NodeOf(press.Src)))
        {
            int lane = Enumerable.Range(0, screen.RowCount).Single(row => Demo.Library.Nodes[row].Unicast == node.Key);
            int marks = screen.Row(lane, 100).ToString().Count(mark => mark == '!');
            Assert.InRange(marks, 1, node.Count());
        }
    }

    [Fact]
    public void Timelines_ZoomToAMillisecond_AndShowTheExactTime()
    {
        Workspace workspace = Demo.Settled();
        var screen = new TimelinesScreen(workspace);
        int lost = Demo.Library.Presses.ToList().FindIndex(press => press.Outcome == PressOutcome.None);
        workspace.ChoosePress(lost);
        screen.Enter();
        screen.Heading(78);
        for (int i = 0; i < 20; i++)
            screen.Take('+');
        string heading = string.Join('\n', screen.Heading(78));
        Assert.Matches(@"a column is \d\d µs", heading);
        Assert.Matches(@"^by address +\d\d:\d\d:\d\d\.\d{6} ", heading);
        Assert.Contains($"The cursor is at {Moment.Micro(Demo.Library.Presses[lost].TimeNs)}", string.Join(' ', screen.Account(200)), StringComparison.Ordinal);
        screen.Take('0');
        Assert.Contains(Moment.Milli(Demo.Library.TimeSpanNs!.Value.First), screen.Heading(78)[0].ToString(), StringComparison.Ordinal);
    }

    [Fact]
    public void Timelines_JumpToEachFaultOnce()
    {
        Workspace workspace = Demo.Settled();
        var screen = new TimelinesScreen(workspace);
        screen.Enter();
        screen.Heading(78);
        var seen = new List<int>();
        for (int i = 0; i < Demo.Library.Presses.Count; i++)
        {
            screen.Take('n');
            if (seen.Count == 0 || seen[^1] != workspace.Press)
                seen.Add(workspace.Press!.Value);
        }
        Assert.Equal(Enumerable.Range(0, Demo.Library.Presses.Count).Where(row => Demo.Library.Presses[row].Outcome is PressOutcome.None or PressOutcome.Some), seen);
    }

    [Fact]
    public void Hops_OfAPress_AreItsRequestsAndAnswers()
    {
        Workspace workspace = Demo.Settled();
        int answered = Demo.Library.Presses.ToList().FindIndex(press => press.Answers.Count > 0);
        workspace.ChoosePress(answered);
        var screen = new HopsScreen(workspace);
        screen.Enter();
        Press press = Demo.Library.Presses[answered];
        Assert.Equal(press.Messages.Concat(press.Answers.Select(answer => answer.Message)).Sum(message => Demo.Library.FloodsOf(message).Count), screen.RowCount);
        screen.Take('a');
        Assert.Equal(Demo.Library.Floods.Count, screen.RowCount);
        screen.Take('g');
        Assert.Equal(Demo.Library.Hops.Links.Count, screen.RowCount);
    }

    [Fact]
    public void Hops_TreeNamesEveryTransmitterOnce()
    {
        Workspace workspace = Demo.Settled();
        for (int flood = 0; flood < Demo.Library.Floods.Count; flood += 13)
        {
            int rows = HopWords.Spread(workspace.Account, flood, 120).Count(line => line.ToString().Contains("dBm", StringComparison.Ordinal));
            Assert.Equal(Analysis.Floods.HopTree.Of(Demo.Library, flood).Count, rows);
        }
    }

    [Fact]
    public void Repeats_ShowsSetAndHeard()
    {
        var screen = new RepeatsScreen(Demo.Settled());
        string all = string.Join('\n', Enumerable.Range(0, screen.RowCount).Select(row => screen.Row(row, 140).ToString()));
        Assert.Contains("reading lamp 3", all, StringComparison.Ordinal);
        Assert.Contains("3 x 20 ms", all, StringComparison.Ordinal);
        Assert.Contains("channel 37", string.Join('\n', screen.Account(100)), StringComparison.Ordinal);
    }

    [Fact]
    public void Repeats_AirtimeSharesAreParts() =>
        Assert.InRange(Demo.Library.Nodes.Sum(node => Demo.Settled().Tracks.RadioOf(node.Unicast).AirtimeUs), 1, Demo.Settled().Tracks.All.AirtimeUs);

    /// <summary>In the boathouse the last transfer to a node got no acknowledgment; all its segments were heard here, which says nothing of there.</summary>
    [Fact]
    public void Transfers_OpenOnTheOneThatStalled()
    {
        var screen = new TransfersScreen(Demo.Settled("boathouse"));
        screen.Enter();
        Transfer opened = Demo.Boathouse.Transfers[screen.Selected];
        Assert.Equal((TransferOutcome.AllHeard, true, 0), (opened.Outcome, opened.Dst.IsUnicast, opened.Acks.Count));
        screen.Selected = 0;
        screen.Take('n');
        Assert.Same(opened, Demo.Boathouse.Transfers[screen.Selected]);
        screen.Take('N');
        Assert.Same(opened, Demo.Boathouse.Transfers[screen.Selected]);
    }

    [Fact]
    public void Transfers_MapHasALineASegment_AndAllAcknowledgments()
    {
        Workspace workspace = Demo.Settled("boathouse");
        var screen = new TransfersScreen(workspace);
        Assert.Equal(Demo.Boathouse.Transfers.Count, screen.RowCount);
        for (int row = 0; row < screen.RowCount; row++)
        {
            screen.Selected = row;
            Transfer transfer = Demo.Boathouse.Transfers[row];
            List<string> map = [.. screen.Account(120).Select(line => line.ToString())];
            Assert.Equal(transfer.Segments, map.Count(line => line.StartsWith("seg ", StringComparison.Ordinal)));
            Assert.Equal(transfer.Acks.Count, map.Count(line => line.Contains(" has ", StringComparison.Ordinal) && line.TrimStart().StartsWith('+')));
            foreach (string line in map.Where(line => line.StartsWith("seg ", StringComparison.Ordinal)))
                Assert.Contains('o', line);
        }
    }

    [Fact]
    public void Network_NeverShowsAKey()
    {
        foreach (string demo in (string[])["library", "boathouse"])
        {
            Workspace workspace = Demo.Settled(demo);
            var screen = new NetworkScreen(workspace);
            for (int row = 0; row < screen.RowCount; row++)
            {
                screen.Selected = row;
                string shown = screen.Row(row, 200) + string.Join('\n', screen.Account(200));
                foreach (string key in KeysOf(workspace.History))
                    Assert.DoesNotContain(key, shown.Replace(" ", "", StringComparison.Ordinal), StringComparison.OrdinalIgnoreCase);
            }
        }
    }

    [Fact]
    public void Network_TellsWhoListensToAGroup()
    {
        Workspace workspace = Demo.Settled();
        var lines = new Lines(120);
        NodeWords.SayGroup(lines, workspace.Account, new MeshAddress(0xC002));
        string text = string.Join('\n', lines.All);
        Assert.Contains("receives  stairs lamp 1 (0x0010)", text, StringComparison.Ordinal);
        Assert.Contains("publishes", text, StringComparison.Ordinal);
        lines = new Lines(120);
        NodeWords.SayGroup(lines, workspace.Account, new MeshAddress(0xC004));
        Assert.Contains("No model subscribes to it", string.Join('\n', lines.All), StringComparison.Ordinal);
    }

    internal static IEnumerable<string> KeysOf(CaptureHistory history) => history.Keys.RevealedKeys().Select(key => Convert.ToHexStringLower(key.Octets.ToArray()));
}
