using CsCheck;
using System.Globalization;
using System.Text;
using MeshTrace.Analysis.Description;

namespace MeshTrace.Analysis.Tests.Description;

public sealed class SafeTextTests
{
    [Theory]
    [InlineData(null, "", "no text")]
    [InlineData("", "", "empty")]
    [InlineData("Reading room 2", "Reading room 2", "plain")]
    [InlineData("B\u00fccherei \u8aad\u66f8\u5ba4 \U0001F4DA", "B\u00fccherei \u8aad\u66f8\u5ba4 \U0001F4DA", "letters of any script, and symbols")]
    [InlineData("\u05d7\u05d3\u05e8", "\u05d7\u05d3\u05e8", "letters that run from right to left by themselves")]
    [InlineData("a\u001b[31mb", "a[31mb", "escape sequence")]
    [InlineData("a\u009b31mb", "a31mb", "one-octet control sequence introducer")]
    [InlineData("a\u007f\u0008b", "ab", "delete and backspace")]
    [InlineData("a\tb\r\nc\u2028d", "a b c d", "tab, line ends, line separator")]
    [InlineData("  a   b  ", "a b", "runs of spaces")]
    [InlineData("a\u00a0\u3000b", "a b", "no-break and wide spaces")]
    [InlineData("a\u202eb\u2066c\u2069d\u200fe", "abcde", "direction overrides, isolates and marks")]
    [InlineData("a\u200bb\u200dc\ufeffd\u00ade", "abcde", "zero width and soft hyphen")]
    [InlineData("a\U000E0041b", "ab", "tag characters")]
    [InlineData("a\ue000b\uffffc", "abc", "private use and noncharacter")]
    [InlineData("e\u0301e\u0301", "e\u0301e\u0301", "an accent on each of two letters")]
    [InlineData("e\u0301\u0301\u0301\u0301\u0301x", "e\u0301\u0301\u0301x", "a tower of marks")]
    [InlineData("\u0301x", "x", "a mark with nothing under it")]
    public void Strip(string? text, string shown, string why) => Assert.True(shown == SafeText.Strip(text), why);

    [Fact]
    public void LoneSurrogates_AreRemoved() => Assert.Equal("ab", SafeText.Strip("a\ud800b\udc00"));

    [Theory]
    [InlineData(63, 63)]
    [InlineData(64, 64)]
    [InlineData(65, 64)]
    [InlineData(1_000_000, 64)]
    public void OverLong_IsCutWithAnEllipsis(int length, int shownLength)
    {
        string shown = SafeText.Strip(new string('x', length));
        Assert.Equal(shownLength, shown.Length);
        Assert.Equal(length > 64, shown.EndsWith('\u2026'));
    }

    [Fact]
    public void Cut_NeverSplitsACharacter() => Assert.Equal("abc\u2026", SafeText.Strip("abc\U0001F4DA\U0001F4DA", longest: 5));

    [Fact]
    public void WhateverGoesIn_ComesOutShortAndVisible() => Gen.Select(Gen.String, Gen.Int[1, 40]).Sample((text, longest) =>
    {
        string shown = SafeText.Strip(text, longest);
        Assert.True(shown.Length <= longest);
        Assert.Equal(shown.Trim(), shown);
        foreach (Rune rune in shown.EnumerateRunes())
        {
            Assert.NotEqual(Rune.ReplacementChar, rune);
            Assert.False(Rune.GetUnicodeCategory(rune) is UnicodeCategory.Control or UnicodeCategory.Format or UnicodeCategory.Surrogate
                or UnicodeCategory.LineSeparator or UnicodeCategory.ParagraphSeparator, $"U+{rune.Value:X4}");
        }
        Assert.Equal(shown, SafeText.Strip(shown, longest));
    }, iter: 20_000, threads: 1);
}
