using MeshTrace.Screens.Views;
using Terminal.Gui.Drawing;
using Terminal.Gui.Drivers;
using Attribute = Terminal.Gui.Drawing.Attribute;

namespace MeshTrace.Tests.Screens.Views;

/// <summary>What goes to the terminal for cells that changed (ECMA-48 §8.3.21 CUP, §8.3.117 SGR).</summary>
public sealed class FrameOutputTests : IDisposable
{
    private readonly FrameOutput _output = new();
    private readonly OutputBufferImpl _buffer = new();

    public FrameOutputTests()
    {
        _buffer.SetSize(20, 3);
        _output.Write(_buffer);
        _buffer.CurrentAttribute = new Attribute(Color.None, Color.None, TextStyle.None);
    }

    public void Dispose() => _output.Dispose();

    [Fact]
    public void Runs_AreSentTogether_EachAtItsPlace()
    {
        Put(2, 1, "reading");
        Put(12, 1, "lamp");
        Put(0, 2, "stairs");
        Assert.Equal("\e[0m\e[2;3H\e[39m\e[49mreading\e[2;13Hlamp\e[3;1Hstairs", Sent());
    }

    [Fact]
    public void WhatStandsThere_IsNotSentAgain()
    {
        Put(0, 0, "stairs");
        Sent();
        Put(3, 2, "lamp");
        Assert.Equal("\e[0m\e[3;4H\e[39m\e[49mlamp", Sent());
    }

    /// <summary>A node may be called anything; what looks like an address must not become a link that somebody clicks.</summary>
    [Fact]
    public void AnAddressInAName_IsNoLink()
    {
        Put(0, 0, "http://stairs.test");
        Assert.DoesNotContain("\e]8;", Sent(), StringComparison.Ordinal);
    }

    [Fact]
    public void Colours_AreOfTheSixteen()
    {
        _buffer.CurrentAttribute = new Attribute(new Color(ColorName16.Red), Color.None, TextStyle.None);
        Put(0, 0, "NONE");
        Assert.Matches(@"\e\[(31|91)m", Sent());
    }

    /// <summary>
    /// How wide some letters are, terminals count differently: their room is cleared, so that nothing old shows beside them, and what follows is sent to its
    /// own place, so that columns stay columns.
    /// </summary>
    [Fact]
    public void ALetterThatIsNotOneColumnForSure_MovesNothing()
    {
        Put(0, 0, "a");
        Put(1, 0, "入");
        Put(3, 0, "b");
        Assert.Equal("\e[0m\e[1;1H\e[39m\e[49ma\e[1;2H  \e[1;2H入\e[1;4Hb", Sent());
    }

    private void Put(int x, int y, string letters)
    {
        for (int at = 0; at < letters.Length; at++)
            _buffer.Contents![y, x + at] = new Cell(_buffer.CurrentAttribute, true, letters[at].ToString());
        _buffer.DirtyLines[y] = true;
    }

    private string Sent()
    {
        _output.Write(_buffer);
        return _output.GetLastOutput();
    }
}
