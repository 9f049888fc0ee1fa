using MeshTrace.Analysis.History;
using MeshTrace.Reports.Words;
using MeshTrace.Screens;
using MeshTrace.Screens.Reading;
using MeshTrace.Tests.Screens.Support;

namespace MeshTrace.Tests.Screens;

/// <summary>Names come from files: of any script, with control and direction characters, as long as they like.</summary>
public sealed class HostileNamesTests
{
    [Theory]
    [InlineData("入口パネル東側の壁", "入口")]
    [InlineData("לוח כניסה", "לוח")]
    [InlineData("e\\u0301vil\\u001b[2J\\u0007\\u202eltr", "vil")]
    [InlineData("👩‍🔧👩‍🔧👩‍🔧👩‍🔧👩‍🔧👩‍🔧👩‍🔧👩‍🔧", "👩")]
    [InlineData("a\\u0300\\u0301\\u0302\\u0303\\u0304\\u0305\\u0306", "a")]
    public void DoNoHarm(string name, string seen)
    {
        (CaptureHistory history, NodeTracks tracks) = Demo.Analyse("library", json => json.Replace("\"entrance panel\"", $"\"{name}\"", StringComparison.Ordinal));
        var workspace = new Workspace();
        workspace.Settle(history, tracks);
        Browser browser = Demo.Browse(workspace);
        for (int screen = 0; screen < browser.Screens.Count; screen++)
        {
            browser.GoTo(screen);
            foreach (TextLine line in browser.Compose(80, 24))
            {
                Assert.True(line.Width <= 80, line.ToString());
                Assert.DoesNotContain(line.ToString(), char.IsControl);
                Assert.DoesNotContain('\u202e', line.ToString());
            }
        }
        browser.GoTo(1);
        Assert.Contains(seen, browser.Text(), StringComparison.Ordinal);
    }

    [Fact]
    public void Columns_StandUnderEachOther_WhateverTheNames()
    {
        var grid = new Grid(new("a", 6, 10) { Middle = true }, new("b", 4, 4, true));
        foreach (string name in (string[])["short", "入口パネル東側", "לוח כניסה ארוך", "a\u0301\u0302bc", ""])
            Assert.Equal(16, grid.Row(16, new Cell(name), new Cell("7")).Width);
    }
}
