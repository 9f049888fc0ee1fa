using System.Text;
using AngleSharp.Dom;
using AngleSharp.Html.Dom.Events;
using AngleSharp.Html.Parser;
using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Reports.Page;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Tests.Page;

/// <summary>Writes pages and reads them back with a parser that reads as browsers do.</summary>
internal static class PageReading
{
    public static byte[] Octets(CaptureHistory history, INames? names = null)
    {
        history.Configuration ??= ConfigurationHeard.Read(history);
        history.NodeModels ??= new NodeModels(history.Directory, history.Configuration, history.Provisionings);
        using var output = new MemoryStream();
        CapturePage.Write(history, output, new PageSettings { ProgramVersion = "1.2.3", Names = names });
        return output.ToArray();
    }

    public static string Text(CaptureHistory history, INames? names = null) => Encoding.UTF8.GetString(Octets(history, names));

    public static IDocument Read(CaptureHistory history) => Parse(Text(history));

    /// <summary>Strict: what a browser would silently repair is an error.</summary>
    public static IDocument Parse(string page)
    {
        var errors = new List<string>();
        var parser = new HtmlParser();
        parser.Error += (_, error) =>
        {
            if (error is HtmlErrorEvent html)
                errors.Add($"{html.Message} at line {html.Position.Line}, column {html.Position.Column}: {Around(page, html.Position.Index)}");
        };
        IDocument document = parser.ParseDocument(page);
        Assert.True(errors.Count == 0, string.Join('\n', errors));
        return document;
    }

    private static string Around(string page, int at) => page[Math.Clamp(at - 80, 0, page.Length)..Math.Clamp(at + 40, 0, page.Length)];
}
