using CsCheck;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Tests.Words;

public sealed class PaperTests
{
    [Fact]
    public void Paragraph_WrapsUnderTheWords()
    {
        using var text = new StringWriter();
        new Paper(text, Paper.NarrowestColumns, colour: false).Paragraph("a lamp in the reading room that was asked and does not answer", "  - ");
        Assert.Equal("  - a lamp in the reading room that was\n    asked and does not answer\n", text.ToString());
    }

    [Fact]
    public void Paragraph_KeepsAPercentSignWithItsNumber()
    {
        using var text = new StringWriter();
        new Paper(text, Paper.NarrowestColumns, colour: false).Paragraph("only part of it was heard here, just 41 % of all");
        Assert.Equal("  only part of it was heard here, just\n  41 % of all\n", text.ToString());
    }

    [Fact]
    public void Line_LeavesSpacesAtTheEndOut()
    {
        using var text = new StringWriter();
        new Paper(text, 80, colour: false).Line(new Cell("a  "), new Cell("b   "), new Cell("   "));
        Assert.Equal("a  b\n", text.ToString());
    }

    [Fact]
    public void Colour_IsOnlyThereWhenWanted()
    {
        using StringWriter plain = new(), coloured = new();
        new Paper(plain, 80, colour: false).Line(new Cell("NONE", Tone.Bad));
        new Paper(coloured, 80, colour: true).Line(new Cell("NONE", Tone.Bad));
        Assert.Equal("NONE\n", plain.ToString());
        Assert.Equal("\e[1;31mNONE\e[0m\n", coloured.ToString());
    }

    [Fact]
    public void Paragraph_NeverExceedsTheWidth() =>
        Gen.OneOf(Gen.Const(" "), Gen.Const("閲覧室"), Gen.Const("word"), Gen.Const("/a/very/long/path/without/any/space/in/it/at/all/evening.pcapng")).Array[0, 40].Select(Gen.Int[0, 200]).Sample((words, columns) =>
        {
            using var text = new StringWriter();
            var paper = new Paper(text, columns, colour: false);
            paper.Paragraph(string.Concat(words));
            Assert.All(text.ToString().Split('\n'), line => Assert.InRange(DisplayWidth.Of(line), 0, paper.Columns));
            Assert.Equal(string.Concat(words).Replace(" ", "", StringComparison.Ordinal), text.ToString().Replace(" ", "", StringComparison.Ordinal).Replace("\n", "", StringComparison.Ordinal));
        });
}
