using AngleSharp.Dom;
using MeshTrace.Analysis.History;

namespace MeshTrace.Reports.Tests.Page;

/// <summary>Whoever names a node, a file or a note cannot put anything on the page but text.</summary>
public sealed class HostileNamesTests
{
    private static readonly int Elements = Shape("entrance panel").Count(), Scripts = 1;

    [Theory]
    [InlineData("<script>alert(1)</script>")]
    [InlineData("\"><img src=x onerror=alert(1)>")]
    [InlineData("' onmouseover='alert(1)")]
    [InlineData("=cmd|'/c calc'!A0")]
    [InlineData("</style><script>alert(1)</script>")]
    [InlineData("</title></svg></table><script>alert(1)</script>")]
    [InlineData("<!-- ]]> --><svg/onload=alert(1)>")]
    [InlineData("&lt;script&gt; &#60;b&#62;")]
    [InlineData("\u001b[31mred\u001b]0;title\u0007")]
    [InlineData("\u202Egnp.exe \u2066\u2067")]
    [InlineData("javascript:alert(1)")]
    [InlineData("{{constructor.constructor('alert(1)')()}}")]
    public void Name_ComesOutAsText(string name)
    {
        CaptureHistory history = PageStory.Of(name);
        string page = PageReading.Text(history);
        Assert.DoesNotContain(page, c => c is < ' ' and not '\n' or '\u007f' or '\u202e' or '\u2066' or '\u2067');
        IDocument document = PageReading.Parse(page);
        Assert.Equal(Scripts, document.QuerySelectorAll("script").Length);
        Assert.Empty(document.QuerySelectorAll("img,iframe,[onerror],[onload],[onmouseover],[style]"));
        Assert.Equal(Elements, Shape(name).Count());        // not one element more or less than with a harmless name
        Assert.All(document.All.SelectMany(element => element.Attributes), attribute => Assert.DoesNotContain("alert", attribute.Name, StringComparison.Ordinal));
        string shown = MeshTrace.Analysis.Description.SafeText.Strip(name);
        Assert.Contains(shown, document.QuerySelector("#presses")!.TextContent, StringComparison.Ordinal);
        Assert.Contains(shown, document.QuerySelector("#sheet")!.TextContent, StringComparison.Ordinal);
        Assert.Contains(shown, document.QuerySelector("#findings")!.TextContent, StringComparison.Ordinal);
        Assert.Contains(shown, document.QuerySelector("#story")!.TextContent, StringComparison.Ordinal);
    }

    private static IEnumerable<string> Shape(string name) => PageReading.Read(PageStory.Of(name)).All.Select(element => element.LocalName);
}
