namespace MeshTrace.Reports.Page.Charts;

/// <summary>A drawing (SVG 2) with its title and description, which screen readers tell in its place; it scrolls by itself where the screen is narrow.</summary>
internal sealed class Drawing : IDisposable
{
    /// <summary>Width of every drawing in its own units: text of 13 of them is readable on A4.</summary>
    public const int Width = 800;

    private readonly Markup _markup;

    /// <param name="markup">Where to write.</param>
    /// <param name="id">Identifier on the page.</param>
    /// <param name="title">What it shows.</param>
    /// <param name="description">How to read it, and where the same stands in words.</param>
    /// <param name="height">In its own units.</param>
    /// <param name="zoom">How the page's script may zoom: "time", "all", or "none".</param>
    /// <param name="attributes">Further ones for the script.</param>
    public Drawing(Markup markup, string id, string title, string description, double height, string zoom = "none", params ReadOnlySpan<(string Name, string Value)> attributes)
    {
        _markup = markup;
        markup.Open("figure", ("id", id)).Element("figcaption", title);
        markup.Open("div", ("class", "scroll drawing"), ("tabindex", "0"), ("role", "region"), ("aria-label", title + ", drawn"));
        markup.Open("svg", [("viewBox", $"0 0 {Width} {Markup.Number(height)}"), ("role", "img"), ("aria-labelledby", $"{id}-t {id}-d"), ("data-zoom", zoom), .. attributes]);
        markup.Element("title", title, ("id", id + "-t")).Element("desc", description, ("id", id + "-d"));
    }

    /// <summary>Words at a place.</summary>
    public Drawing Label(double x, double y, string text, string kind = "label", string anchor = "start")
    {
        _markup.Element("text", text, ("x", Markup.Number(x)), ("y", Markup.Number(y)), ("class", kind), ("text-anchor", anchor));
        return this;
    }

    public Drawing Box(double x, double y, double width, double height, string kind)
    {
        _markup.Empty("rect", ("x", Markup.Number(x)), ("y", Markup.Number(y)), ("width", Markup.Number(Math.Max(width, 0.5))), ("height", Markup.Number(height)), ("class", kind));
        return this;
    }

    public Drawing Path(string d, string kind)
    {
        _markup.Empty("path", ("d", d), ("class", kind));
        return this;
    }

    /// <summary>Ends the drawing.</summary>
    public void Dispose() => _markup.Close().Close().Close();
}
