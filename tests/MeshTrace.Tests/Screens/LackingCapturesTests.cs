using System.Text.RegularExpressions;
using MeshTrace.Analysis;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;
using MeshTrace.Screens;
using MeshTrace.Screens.Reading;
using MeshTrace.Tests.Architecture;
using MeshTrace.Tests.Screens.Support;

namespace MeshTrace.Tests.Screens;

/// <summary>Captures from which something is missing: a key, the end of the file, everything. The screens say what, and cut no word of it.</summary>
public sealed class LackingCapturesTests : IDisposable
{
    private readonly string _file = Path.GetTempFileName();

    public void Dispose() => File.Delete(_file);

    [Fact]
    public void WithoutTheRightKey_EveryScreenSaysSo()
    {
        (CaptureHistory history, NodeTracks tracks) = Demo.Analyse("library", json => Regex.Replace(json, "\"key\": \"[0-9A-Fa-f]{32}\"", "\"key\": \"00112233445566778899AABBCCDDEEFF\""));
        Browser browser = Demo.Browse(Settled(history, tracks));
        Assert.Contains("authenticated with these keys", Words(browser), StringComparison.Ordinal);
        Assert.Contains("that the export is newer than the last key refresh", Words(browser), StringComparison.Ordinal);
        AssertNothingIsCut(browser);
    }

    [Fact]
    public void WithoutAnyKey_TheOctetsOfAForeignNetworkAreShown()
    {
        Browser browser = Demo.Browse(Read(Demo.Capture("library"), description: false));
        Assert.Contains("No network key was given", Words(browser), StringComparison.Ordinal);
        AssertNothingIsCut(browser);
        browser.GoTo(5);
        browser.Take(Motion.End, 'x');
        Assert.Contains("NID 0x", browser.Text(), StringComparison.Ordinal);
        Assert.Contains("[7 Octets]", browser.Text(), StringComparison.Ordinal);
    }

    [Fact]
    public void AFileThatWasCut_IsToldOnTheScreen()
    {
        File.WriteAllBytes(_file, File.ReadAllBytes(Demo.Capture("library"))[..200_000]);
        Browser browser = Demo.Browse(Read(_file, description: true));
        Assert.StartsWith(" DAMAGED at octet 199,968, shown up to there. 12 presses: 6 OK, 6 ?", browser.Text().Split('\n')[1], StringComparison.Ordinal);
    }

    [Fact]
    public void TheFateOfAllPresses_FitsTheSmallestTerminal()
    {
        string line = Demo.Browse(Demo.Settled()).Text().Split('\n')[1];
        Assert.Matches(@"^ Everything is shown\. 47 presses: \d+ OK, \d+ PART, \d+ NONE, \d+ \?$", line);
    }

    [Fact]
    public void WhatOneMayNarrowTo_FitsTheSmallestTerminal()
    {
        Browser browser = Demo.Browse(Demo.Settled());
        browser.Take('f');
        browser.Type("notice");
        browser.Take(Motion.Enter, 'o');
        string line = browser.Text().Split('\n')[^1];
        Assert.Contains("p this press", line, StringComparison.Ordinal);
        Assert.EndsWith("   Esc: no", line, StringComparison.Ordinal);
    }

    [Fact]
    public void TheMessageOfACopy_FitsTheSmallestTerminal()
    {
        Browser browser = Demo.Browse(Demo.Settled());
        for (int screen = 0; screen < browser.Screens.Count; screen++)
        {
            browser.GoTo(screen);
            browser.Take('c');
            Assert.DoesNotContain("…", browser.Text().Split('\n')[^1], StringComparison.Ordinal);
        }
    }

    [Fact]
    public void AnythingHeard_HasOctets()
    {
        Browser browser = Demo.Browse(Demo.Settled("boathouse"));
        browser.GoTo(5);
        int rows = browser.Current.RowCount;
        for (int row = 0; row < rows; row++)
        {
            browser.Current.Selected = row;
            string line = browser.Current.Row(row, 78).ToString();
            if (line.StartsWith("joining", StringComparison.Ordinal) || line.StartsWith("not opened", StringComparison.Ordinal) || line.StartsWith("beacon", StringComparison.Ordinal))
                Assert.True(browser.Current.Frame is not null, line);
        }
    }

    private static void AssertNothingIsCut(Browser browser)
    {
        for (int screen = 0; screen < browser.Screens.Count; screen++)
        {
            browser.GoTo(screen);
            if (browser.Current.RowCount == 0)
                Assert.DoesNotContain("…", browser.Text(), StringComparison.Ordinal);
        }
        browser.GoTo(0);
    }

    /// <summary>What stands on the screen, as if on one line.</summary>
    private static string Words(Browser browser) => string.Join(' ', browser.Text().Split((char[])[' ', '\n'], StringSplitOptions.RemoveEmptyEntries));

    private static Workspace Read(string file, bool description)
    {
        byte[] json = File.ReadAllBytes(Path.Combine(Repository.Root, "captures-demo", "library.network.json"));
        var analysis = new CaptureAnalysis(description ? new AnalysisSettings { Description = NetworkDescriptionReader.Read(json, "library") } : new AnalysisSettings());
        using IFrameSource source = CaptureFile.Open(file);
        analysis.Read(source);
        CaptureHistory history = analysis.Complete();
        return Settled(history, NodeTracks.Of(history));
    }

    private static Workspace Settled(CaptureHistory history, NodeTracks tracks)
    {
        var workspace = new Workspace();
        workspace.Settle(history, tracks);
        return workspace;
    }
}
