using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Page.Charts;

/// <summary>One bar.</summary>
/// <param name="Label">What it is of.</param>
/// <param name="Value">Its length.</param>
/// <param name="Says">The value in words, beside it.</param>
internal sealed record Bar(string Label, double Value, string Says)
{
    /// <summary>Ends of the interval around the value, or null.</summary>
    public double? Low { get; init; }
    public double? High { get; init; }

    /// <summary>Where an upright line stands, or null.</summary>
    public double? Mark { get; init; }
}

/// <summary>Lying bars with label and value, so that no colour need be told from another.</summary>
internal static class BarChart
{
    private const int RowHeight = 22, Thickness = 12, LabelColumns = 26;
    private const double Left = 205, Length = 350, Right = 570;

    /// <param name="most">The value of a bar of full length.</param>
    public static void Write(Markup markup, string id, string title, string description, IReadOnlyList<Bar> bars, double most)
    {
        using var drawing = new Drawing(markup, id, title, description, (bars.Count * RowHeight) + 8);
        for (int row = 0; row < bars.Count; row++)
        {
            Bar bar = bars[row];
            double top = 4 + (row * RowHeight), middle = top + (RowHeight / 2.0);
            drawing.Label(Left - 8, middle + 4, DisplayWidth.Isolate(DisplayWidth.CutMiddle(bar.Label, LabelColumns)), anchor: "end");
            drawing.Path($"M{Markup.Number(Left)} {Markup.Number(middle)}h{Markup.Number(Length)}", "guide");
            drawing.Box(Left, middle - (Thickness / 2.0), At(bar.Value), Thickness, "bar");
            if (bar is { Low: { } low, High: { } high })
            {
                string from = Markup.Number(Left + At(low)), to = Markup.Number(Left + At(high)), y = Markup.Number(middle), up = Markup.Number(middle - 5);
                drawing.Path($"M{from} {y}H{to}M{from} {up}v10M{to} {up}v10", "interval");
            }
            if (bar.Mark is { } mark)
                drawing.Path($"M{Markup.Number(Left + At(mark))} {Markup.Number(top + 1)}v{RowHeight - 2}", "setting");
            drawing.Label(Right, middle + 4, bar.Says);
        }

        double At(double value) => Length * Math.Clamp(value / most, 0, 1);
    }
}
