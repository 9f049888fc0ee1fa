using CsCheck;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Tests.Words;

/// <summary>Columns on a terminal. Widths by Unicode Standard Annex #11: W and F take two columns, combining marks none.</summary>
public sealed class DisplayWidthTests
{
    private static readonly Gen<string> AnyText = Gen.OneOf(
        Gen.Char['a', 'z'].Select(c => c.ToString()), Gen.Const("閲"), Gen.Const("\u0301"), Gen.Const("م"), Gen.Const("\ud83d\udca1"),
        Gen.Const("\ud83d\udc69\u200d\ud83d\ude80"), Gen.Const(" "), Gen.Const("\ud800")).Array[0, 30].Select(string.Concat);

    [Theory]
    [InlineData("", 0)]
    [InlineData("Reading room", 12)]
    [InlineData("閲覧室", 6)]
    [InlineData("ｱｲｳ", 3)]             // half-width katakana
    [InlineData("ＡＢ", 4)]             // full-width letters
    [InlineData("한국", 4)]
    [InlineData("e\u0301", 1)]          // letter and combining acute
    [InlineData("مصباح", 5)]
    [InlineData("\ud83d\udca1", 2)]     // light bulb
    [InlineData("\ud83d\udc69\u200d\ud83d\ude80", 2)]   // two people emoji joined into one
    [InlineData("\u2600\ufe0f", 2)]     // sun in emoji presentation
    public void Of_CountsColumns(string text, int columns) => Assert.Equal(columns, DisplayWidth.Of(text));

    [Theory]
    [InlineData("Reading room", 12, "Reading room")]
    [InlineData("Reading room", 11, "Reading ro…")]
    [InlineData("閲覧室の照明", 7, "閲覧室…")]
    [InlineData("閲覧室の照明", 6, "閲覧…")]      // a wide character is never cut in half
    [InlineData("e\u0301e\u0301e\u0301", 2, "e\u0301…")]
    [InlineData("abc", 1, "…")]
    [InlineData("abc", 0, "")]
    public void Cut_KeepsWholeCharacters(string text, int columns, string cut) => Assert.Equal(cut, DisplayWidth.Cut(text, columns));

    [Fact]
    public void CutMiddle_KeepsBothEnds()
    {
        Assert.Equal("entran…stairs", DisplayWidth.CutMiddle("entrance panel, stairs", 13));
        Assert.Equal("short", DisplayWidth.CutMiddle("short", 13));
    }

    [Theory]
    [InlineData("ab", 4, false, "ab  ")]
    [InlineData("ab", 4, true, "  ab")]
    [InlineData("閲覧", 5, false, "閲覧 ")]
    [InlineData("مص", 4, false, "\u2068مص\u2069  ")]
    public void Fit_FillsAndIsolates(string text, int columns, bool right, string shown) => Assert.Equal(shown, DisplayWidth.Fit(text, columns, right));

    [Fact]
    public void Fit_IsAlwaysExactlyAsWideAsAsked() =>
        AnyText.Select(Gen.Int[1, 40]).Sample((text, columns) =>
        {
            Assert.Equal(columns, DisplayWidth.Of(DisplayWidth.Fit(text, columns)));
            Assert.InRange(DisplayWidth.Of(DisplayWidth.CutMiddle(text, columns)), 0, columns);
        });
}
