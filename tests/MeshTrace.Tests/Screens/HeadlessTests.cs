using MeshTrace.Analysis.History;
using MeshTrace.Screens;
using MeshTrace.Screens.Reading;
using MeshTrace.Tests.Screens.Support;
using Terminal.Gui.Drawing;
using Terminal.Gui.Input;

namespace MeshTrace.Tests.Screens;

/// <summary>The screens as a terminal's driver draws them, with keys and clicks given to the driver.</summary>
public sealed class HeadlessTests
{
    public static TheoryData<int, int> Sizes => new() { { 80, 24 }, { 140, 40 } };

    [Theory, MemberData(nameof(Sizes))]
    public void EachScreen_IsDrawnAsComposed(int columns, int lines)
    {
        Browser browser = Demo.Browse(Demo.Settled());
        using var stage = new Stage(browser, columns, lines);
        string[] questions = ["Which presses were lost", "Who did what when?", "where did it end?", "Does each node repeat", "Which segmented messages", "What is this network made of?", "What stands in this frame?"];
        for (int screen = 0; screen < questions.Length; screen++)
        {
            stage.Press(new Key((char)('1' + screen)));
            string[] drawn = stage.Lines();
            Assert.Equal(browser.Compose(columns, lines).Select(line => line.ToString()), drawn);
            Assert.Contains(drawn, line => line.Contains(questions[screen], StringComparison.Ordinal));
            Assert.Contains($"[{screen + 1} {browser.Current.Name}]", drawn[0], StringComparison.Ordinal);
        }
    }

    /// <summary>Only what changes is drawn again: after any keys the terminal must show what was composed, as if all of it had been drawn.</summary>
    [Theory, InlineData("entrance panel"), InlineData("入口パネル東側の壁"), InlineData("לוח כניסה"), InlineData("👩‍🔧 e\\u0301 각 ☎️ ａ")]
    public void WhatIsDrawnPieceByPiece_IsAsComposed(string name)
    {
        (CaptureHistory history, NodeTracks tracks) = Demo.Analyse("library", json => json.Replace("\"entrance panel\"", $"\"{name}\"", StringComparison.Ordinal));
        var workspace = new Workspace();
        workspace.Settle(history, tracks);
        Browser browser = Demo.Browse(workspace);
        using var stage = new Stage(browser, 80, 24);
        Key[] keys = [.. "12345673ag?ofu.nN+-0s<>[]x".Select(letter => new Key(letter)), Key.CursorDown, Key.CursorUp, Key.CursorRight, Key.PageDown, Key.End, Key.Home, Key.Enter, Key.Esc, Key.Tab];
        var random = new Random(20261129);
        for (int step = 0; step < 400; step++)
        {
            Key key = keys[random.Next(keys.Length)];
            stage.Press(key);
            // The library composes letters and their marks (Unicode normalization form C).
            foreach ((string composed, string drawn) in browser.Compose(80, 24).Select(line => line.ToString().Normalize()).Zip(stage.Lines()))
                Assert.True(composed == drawn, $"step {step}, {key}:\n{composed}\n{drawn}\n{string.Join(' ', drawn.Select(letter => $"{(int)letter:x}"))}");
        }
    }

    /// <summary>The cursor of the timelines crosses all lanes, and yet in them only its two columns change, and below what is told of it.</summary>
    [Fact]
    public void ACursorMove_SendsNoMoreThanItChanges()
    {
        using var stage = new Stage(Demo.Browse(Demo.Settled()), 140, 40);
        stage.Press(Key.Home);
        int whole = stage.Octets(new Key('2'));
        Assert.InRange(stage.Octets(Key.CursorRight), 1, whole / 2);
        stage.Press(new Key('1'));
        Assert.InRange(stage.Octets(Key.CursorDown), 1, whole / 2);
    }

    [Fact]
    public void Presses_LeadToTheirHops_AndOctets()
    {
        using var stage = new Stage(Demo.Browse(Demo.Settled()), 80, 24);
        Assert.Contains("NONE", stage.Text(), StringComparison.Ordinal);
        stage.Press(new Key('n'), Key.Enter);
        Assert.Contains("END  Its TTL was used up", stage.Text(), StringComparison.Ordinal);
        stage.Press(Key.Enter);
        Assert.Contains("Access Address", stage.Text(), StringComparison.Ordinal);
        stage.Press(Key.Esc, Key.Esc);
        Assert.StartsWith("[1 Presses]", stage.Text(), StringComparison.Ordinal);
    }

    [Fact]
    public void Find_TakesTypedWords()
    {
        using var stage = new Stage(Demo.Browse(Demo.Settled()), 80, 24);
        stage.Press(new Key('f'));
        foreach (char letter in "notice")
            stage.Press(new Key(letter));
        Assert.Contains("notice_", stage.Lines()[^1], StringComparison.Ordinal);
        stage.Press(Key.Enter);
        Assert.Contains(stage.Lines(), line => line.StartsWith('>') && line.Contains("Notice board", StringComparison.Ordinal));
    }

    /// <summary>Pasted letters are no keys: "q" in them must not leave, and the end of the line must not answer the question.</summary>
    [Fact]
    public void PastedWords_GoIntoALineThatIsTyped_AndNowhereElse()
    {
        Browser browser = Demo.Browse(Demo.Settled());
        using var stage = new Stage(browser, 80, 24);
        string before = stage.Text();
        stage.Send("\e[200~2q\e[201~");
        Assert.Equal(before, stage.Text());
        Assert.False(browser.IsDone);
        stage.Press(new Key('f'));
        stage.Send("\e[200~notice\r\n\e[201~");
        Assert.Contains("notice_", stage.Lines()[^1], StringComparison.Ordinal);
        stage.Press(Key.Esc, new Key('o'));
        stage.Send("\e[200~g\e[201~");
        Assert.Contains("Show only:", stage.Lines()[^1], StringComparison.Ordinal);
    }

    [Fact]
    public void AClick_ChoosesScreenAndRow()
    {
        using var stage = new Stage(Demo.Browse(Demo.Settled()), 80, 24);
        stage.Click(stage.Lines()[0].IndexOf("6 Network", StringComparison.Ordinal) + 1, 0);
        Assert.Contains("[6 Network]", stage.Text(), StringComparison.Ordinal);
        stage.Click(10, 6);
        Assert.StartsWith(">", stage.Lines()[6], StringComparison.Ordinal);
    }

    [Fact]
    public void TheTerminal_MayBeTooSmall_AndGrow()
    {
        using var stage = new Stage(Demo.Browse(Demo.Settled()), 60, 20);
        Assert.StartsWith("MeshTrace needs 80 x 24.", stage.Text(), StringComparison.Ordinal);
        stage.Resize(80, 24);
        Assert.StartsWith("[1 Presses]", stage.Text(), StringComparison.Ordinal);
    }

    [Theory, InlineData(true), InlineData(false)]
    public void Colours_AreTheTerminalsOwn_OrNone(bool colour)
    {
        using var stage = new Stage(Demo.Browse(Demo.Settled()), 80, 24, colour);
        var foregrounds = new HashSet<Color>();
        foreach (Cell cell in stage.Buffer.Contents!)
        {
            Assert.Equal(Color.None, cell.Attribute!.Value.Background);
            foregrounds.Add(cell.Attribute.Value.Foreground);
        }
        Assert.Equal(colour, foregrounds.Contains(new Color(ColorName16.Red)));
        Assert.True(colour || foregrounds.SetEquals([Color.None]));
    }

    [Fact]
    public void LeavingAndInterrupting_AreToldApart()
    {
        Browser browser = Demo.Browse(Demo.Settled());
        using var stage = new Stage(browser, 80, 24);
        stage.Press(Key.C.WithCtrl);
        Assert.True(stage.View.IsInterrupted);
        Assert.False(browser.IsDone);
        stage.Press(new Key('q'));
        Assert.True(browser.IsDone);
    }
}
