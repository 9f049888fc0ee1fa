using MeshTrace.Screens.Views;
using MeshTrace.Tests.Screens.Support;
using Terminal.Gui.Input;

namespace MeshTrace.Tests.Screens.Views;

/// <summary>Octets as terminals send them (ECMA-48, xterm control sequences) and the keys they are. Time passes only as the tests say.</summary>
public sealed class KeyDecoderTests : IDisposable
{
    private readonly ManualTime _time = new();
    private readonly List<Key> _keys = [];
    private readonly List<MouseFlags> _clicks = [];
    private readonly List<string> _pasted = [];
    private readonly KeyDecoder _decoder;

    public KeyDecoderTests() => _decoder = new KeyDecoder(_time, _keys.Add, mouse => _clicks.Add(mouse.Flags), _pasted.Add);

    public void Dispose() => _decoder.Dispose();

    [Fact]
    public void Escape_IsAKey_OnceNothingHasFollowedFor20Ms()
    {
        Assert.Equal(TimeSpan.FromMilliseconds(20), After(0, "\e"));
        Assert.Equal(TimeSpan.FromMilliseconds(1), After(19, ""));
        Assert.Empty(_keys);
        Assert.Equal(Timeout.InfiniteTimeSpan, After(1, ""));
        Assert.Equal([Key.Esc], _keys);
    }

    /// <summary>A network may part a key just there.</summary>
    [Fact]
    public void AKeyInTwoParts_IsNoEscape()
    {
        After(0, "\e");
        After(19, "[A");
        After(1000, "");
        Assert.Equal([Key.CursorUp], _keys);
    }

    [Fact]
    public void ASequenceThatStopsInTheMiddle_IsGivenUp_AndTheNextKeyCounts()
    {
        Assert.Equal(TimeSpan.FromMilliseconds(51), After(0, "\e["));
        Assert.Equal(Timeout.InfiniteTimeSpan, After(51, ""));
        int before = _keys.Count;
        After(0, "n");
        Assert.Equal(new Key('n'), Assert.Single(_keys.Skip(before)));
    }

    [Fact]
    public void Escapes_CountOneByOne()
    {
        After(0, "\e\e");
        Assert.Equal([Key.Esc], _keys);
        After(20, "");
        After(0, "\e");
        After(20, "");
        Assert.Equal([Key.Esc, Key.Esc, Key.Esc], _keys);
        After(0, "\e[B");
        Assert.Equal(Key.CursorDown, _keys[^1]);
    }

    [Fact]
    public void WithNothingHeld_ThereIsNothingToWaitFor()
    {
        Assert.Equal(Timeout.InfiniteTimeSpan, After(0, ""));
        Assert.Equal(Timeout.InfiniteTimeSpan, After(0, "n\e[A"));
    }

    [Fact]
    public void Pasted_IsNoKey()
    {
        After(0, "\e[200~quit\e[201~");
        Assert.Equal(["quit"], _pasted);
        Assert.Empty(_keys);
    }

    [Fact]
    public void ADoubleClick_IsTwoClicksInShortOrder()
    {
        const string Click = "\e[<0;11;7M\e[<0;11;7m";
        After(0, Click);
        Assert.Contains(MouseFlags.LeftButtonClicked, _clicks);
        Assert.DoesNotContain(MouseFlags.LeftButtonDoubleClicked, _clicks);
        After(0, Click);
        Assert.Contains(MouseFlags.LeftButtonDoubleClicked, _clicks);
    }

    [Theory]
    [InlineData("\e[A", "\eOA")]
    [InlineData("\e[B", "\eOB")]
    [InlineData("\e[C", "\eOC")]
    [InlineData("\e[D", "\eOD")]
    [InlineData("\e[H", "\eOH", "\e[1~")]
    [InlineData("\e[F", "\eOF", "\e[4~")]
    [InlineData("\e[5~")]
    [InlineData("\e[6~")]
    public void Sequences_OfDifferentTerminals_AreTheSameKey(params string[] sequences)
    {
        foreach (string sequence in sequences)
            After(0, sequence);
        Assert.Equal(sequences.Length, _keys.Count);
        Assert.All(_keys, key => Assert.Equal(_keys[0], key));
        Assert.Contains(_keys[0], (Key[])[Key.CursorUp, Key.CursorDown, Key.CursorRight, Key.CursorLeft, Key.Home, Key.End, Key.PageUp, Key.PageDown]);
    }

    [Theory, InlineData("\e[7~"), InlineData("\e[999~"), InlineData("\e[?1;2c"), InlineData("\e]0;title\a"), InlineData("\e[I"), InlineData("\eOz"), InlineData("\e[M !!"), InlineData("\e[<9;9;9Z")]
    public void WhatIsNoKnownKey_DoesNoHarm(string octets)
    {
        After(0, octets + "n");
        After(60, "");
        After(0, "m");
        Assert.Equal(new Key('m'), _keys[^1]);
    }

    /// <summary>Whatever comes from a terminal (common practice, no source): nothing is thrown, and afterwards keys are keys.</summary>
    [Fact]
    public void Noise_DoesNoHarm()
    {
        const string Letters = "\e\e\e[[O<;?0123456789~ABHMmuRctPz\a\\]\u009b\0\x7fé入\ud834";
        var random = new Random(20261129);
        for (int round = 0; round < 3000; round++)
        {
            After(random.Next(30), string.Concat(Enumerable.Range(0, random.Next(12)).Select(_ => Letters[random.Next(Letters.Length)])));
            After(60, "\a");
            After(60, "\e[201~");
            After(60, "m");
            Assert.Equal(new Key('m'), _keys[^1]);
        }
    }

    [Fact]
    public void LettersBeyondTheFirstPlane_AreOneKey()
    {
        After(0, "𝄞ä");
        Assert.Equal([0x1D11E, 'ä'], _keys.Select(key => key.AsRune.Value));
    }

    private TimeSpan After(int ms, string octets)
    {
        _time.Pass(TimeSpan.FromMilliseconds(ms));
        foreach (char octet in octets)
            _decoder.Letters.Enqueue(octet);
        return _decoder.Decode();
    }
}
