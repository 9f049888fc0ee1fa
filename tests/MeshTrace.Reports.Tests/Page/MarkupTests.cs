using MeshTrace.Reports.Page;
using MeshTrace.Reports.Tests.Support;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Tests.Page;

/// <summary>The one writer of the page: text comes out as text, whatever it holds.</summary>
public sealed class MarkupTests
{
    private static string Written(Action<Markup> write)
    {
        using var text = new StringWriter();
        write(new Markup(text, new NameBook(new Story().History)));
        return text.ToString();
    }

    [Theory]
    [InlineData("<script>alert(1)</script>", "&lt;script&gt;alert(1)&lt;/script&gt;")]
    [InlineData("</style><b>", "&lt;/style&gt;&lt;b&gt;")]
    [InlineData("a & b", "a &amp; b")]
    [InlineData("\"quoted\" 'too'", "&quot;quoted&quot; &#x27;too&#x27;")]
    [InlineData("=cmd|'/c calc'!A0", "=cmd|&#x27;/c calc&#x27;!A0")]
    [InlineData("\u001b[31mred\u001b[0m\u0007", "[31mred[0m")]
    [InlineData("Lesesaal \u00fc \u56f3\u66f8\u9928", "Lesesaal \u00fc \u56f3\u66f8\u9928")]
    [InlineData("two\r\nlines\tand a tab", "two  lines and a tab")]
    [InlineData("\u202Egnp.exe\u202C \u200Bhidden", "gnp.exe hidden")]
    [InlineData("\u2069turned\u2069", "turned")]
    public void Text_IsEscaped(string text, string expected)
    {
        Assert.Equal($"<p>{expected}</p>\n", Written(markup => markup.Element("p", text)));
        Assert.Equal($"<p title=\"{expected}\"></p>\n", Written(markup => markup.Element("p", "", ("title", text))));
    }

    [Fact]
    public void LoneSurrogates_BecomeAReplacementCharacter() =>
        Assert.DoesNotContain('\ud800', Written(markup => markup.Element("p", "a\ud800b")));

    [Fact]
    public void Isolates_StayInPairs()
    {
        Assert.Equal("\u2068\u05d0\u2069", Markup.Clean("\u2068\u05d0\u2069"));
        Assert.Equal("\u2068\u05d0\u2069", Markup.Clean("\u2068\u05d0"));
    }

    [Fact]
    public void LongText_IsCut() => Assert.Equal(Markup.LongestText + 1, Markup.Clean(new string('a', 100_000)).Length);

    [Theory, InlineData("p onclick=x"), InlineData("script>"), InlineData("a\"b")]
    public void NamesOfElements_AreNamesOrNothing(string name)
    {
        Assert.Throws<ArgumentException>(() => Written(markup => markup.Open(name)));
        Assert.Throws<ArgumentException>(() => Written(markup => markup.Open("p", (name, "x"))));
    }

    [Fact]
    public void Close_EndsTheElementBegunLast() => Assert.Equal("<div><span>a</span></div>\n", Written(markup => markup.Open("div").Open("span").Text("a").Close().Close()));
}
