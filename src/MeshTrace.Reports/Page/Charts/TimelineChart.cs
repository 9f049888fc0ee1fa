using System.Globalization;
using System.Text;
using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Notes;
using MeshTrace.Analysis.Presses;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Page.Charts;

/// <summary>Who did what when: a lane a node, presses by shape, deaf times and notes in a band on top.</summary>
internal static class TimelineChart
{
    private const int Left = 165, Top = 44, LaneHeight = 24, LabelColumns = 19, MostDeaf = 200, MostNotes = 100, BandTop = 22, BandHeight = 14, MostTicks = 8;
    private const long NsPerMs = 1_000_000;

    /// <summary>Distances between the labels of the time axis, in seconds.</summary>
    private static readonly double[] Steps = [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 1200, 1800, 3600, 7200, 14400, 28800, 43200, 86400];

    public static void Write(PageDraft draft, TimelineLanes lanes)
    {
        int bottom = Top + (lanes.Nodes.Count * LaneHeight);
        Markup markup = draft.Markup;
        using var drawing = new Drawing(markup, "timeline-chart", "Who did what when (UTC)",
            $"A lane for each of {Phrases.Count(lanes.Nodes.Count, "node")}, time from left to right. Marks are presses: a disc was answered by all, a triangle by some, a cross by nobody, an empty diamond cannot be told. "
            + "The table of presses holds the same in words.", bottom + 34, "time",
            ("data-left", Markup.Number(Left)), ("data-length", Markup.Number(TimelineLanes.Length)), ("data-from", Ms(lanes.FromNs)), ("data-to", Ms(lanes.ToNs)), ("data-bottom", Markup.Number(bottom)));
        WriteDefinitions(markup);
        drawing.Label(Left - 8, BandTop + 11, "not listening, notes", "label quiet-label", "end");
        for (int lane = 0; lane < lanes.Nodes.Count; lane++)
        {
            double middle = Top + (lane * LaneHeight) + (LaneHeight / 2.0);
            drawing.Label(Left - 8, middle + 4, DisplayWidth.Isolate(DisplayWidth.CutMiddle(draft.Account.Names.Short(lanes.Nodes[lane]), LabelColumns)), anchor: "end");
            drawing.Path($"M{Left} {Markup.Number(middle)}h{TimelineLanes.Length}", "guide");
        }
        WriteTicks(drawing, markup, lanes, bottom);
        // A window of its own cuts off what a zoom moves out of sight.
        string window = $"{Left - 7} 0 {TimelineLanes.Length + 14} {bottom}";
        markup.Open("svg", ("x", Markup.Number(Left - 7)), ("y", "0"), ("width", Markup.Number(TimelineLanes.Length + 14)), ("height", Markup.Number(bottom)), ("viewBox", window));
        // What the script stretches when it zooms.
        markup.Open("g", ("class", "stretch"), ("transform", $"translate({Left} 0)"));
        WriteDeafness(draft, drawing, lanes, bottom);
        for (int lane = 0; lane < lanes.Nodes.Count; lane++)
        {
            double middle = Top + (lane * LaneHeight) + (LaneHeight / 2.0);
            WriteRuns(drawing, lanes.Sent(lane), middle - 4, "sent");
            WriteRuns(drawing, lanes.Relayed(lane), middle + 4, "relayed");
        }
        markup.Close();
        WriteNotes(draft, lanes);
        foreach (PressMark mark in lanes.Marks)
            WriteMark(draft, mark);
        markup.Close();
        WriteLegend(drawing, markup, bottom + 28);
    }

    private static void WriteDefinitions(Markup markup)
    {
        markup.Open("defs");
        markup.Open("pattern", ("id", "timeline-deaf"), ("width", "6"), ("height", "6"), ("patternUnits", "userSpaceOnUse"))
            .Empty("path", ("d", "M-1 1l2 -2M0 6l6 -6M5 7l2 -2"), ("class", "hatch")).Close();
        markup.Close();
    }

    private static void WriteTicks(Drawing drawing, Markup markup, TimelineLanes lanes, int bottom)
    {
        double step = Steps.FirstOrDefault(one => lanes.Seconds / one <= MostTicks, Math.Max(86400, Math.Ceiling(lanes.Seconds / MostTicks / 86400) * 86400));
        markup.Open("g", ("class", "ticks"));
        double first = Math.Ceiling(lanes.FromNs / 1e9 / step) * step;
        for (double at = first; at <= lanes.ToNs / 1e9; at += step)
        {
            long ns = (long)Math.Clamp(Math.Round((decimal)at * 1_000_000_000m), lanes.FromNs, lanes.ToNs);
            double x = Left + lanes.PlaceOf(ns);
            drawing.Path($"M{Markup.Number(x)} 18V{bottom}", "tick");
            drawing.Label(Math.Clamp(x, Left + 24, Drawing.Width - 32), 13, TickLabel(ns, step), "label", "middle");
        }
        markup.Close();
    }

    private static string TickLabel(long ns, double stepSeconds)
    {
        DateTimeOffset time = DateTimeOffset.UnixEpoch.AddTicks(ns / 100);
        return time.ToString(stepSeconds >= 86400 ? "MM-dd" : stepSeconds >= 60 ? "HH:mm" : stepSeconds >= 1 ? "HH:mm:ss" : "ss.fff", CultureInfo.InvariantCulture);
    }

    private static void WriteDeafness(PageDraft draft, Drawing drawing, TimelineLanes lanes, int bottom)
    {
        foreach (DeafSpan span in draft.History.Deafness.Spans.Where(span => draft.History.Deafness.IsDeaf(span.FromNs, span.ToNs)).Take(MostDeaf))
        {
            double from = lanes.PlaceOf(span.FromNs), width = lanes.PlaceOf(span.ToNs) - from;
            drawing.Box(from, BandTop, width, bottom - BandTop, "deaf-shade");
            draft.Markup.Open("rect", ("x", Markup.Number(from)), ("y", Markup.Number(BandTop)), ("width", Markup.Number(Math.Max(width, 1))), ("height", Markup.Number(BandHeight)), ("class", "deaf told"), ("fill", "url(#timeline-deaf)"))
                .Element("title", $"Deaf from {Phrases.Clock(span.FromNs)} to {Phrases.Clock(span.ToNs)}: what was sent then was not heard here").Close();
        }
    }

    private static void WriteNotes(PageDraft draft, TimelineLanes lanes)
    {
        foreach (PlacedNote note in draft.History.Notes.Notes.Where(note => note.TimeNs >= lanes.FromNs && note.TimeNs <= lanes.ToNs).Take(MostNotes))
        {
            double x = lanes.PlaceOf(note.TimeNs!.Value);
            draft.Markup.Open("g", ("class", "place note-mark told"), ("data-x", Markup.Number(x)), ("data-y", Markup.Number(BandTop + 7)), ("transform", $"translate({Markup.Number(Left + x)} {BandTop + 7})"))
                .Element("title", $"Note at {Phrases.Clock(note.TimeNs.Value)}: {note.Note.Where} {note.Note.Words}").Element("text", "N", ("y", "5"), ("text-anchor", "middle"), ("class", "label")).Close();
        }
    }

    /// <summary>Places in which something was heard, neighbours drawn as one stroke.</summary>
    private static void WriteRuns(Drawing drawing, ReadOnlySpan<bool> places, double y, string kind)
    {
        var d = new StringBuilder();
        int at = 0;
        for (int place = 0; place < places.Length; place++)
        {
            if (!places[place])
                continue;
            int end = place;
            while (end < places.Length && places[end])
                end++;
            if (d.Length == 0)
                d.Append(CultureInfo.InvariantCulture, $"M{place} {Markup.Number(y)}h{end - place}");
            else
                d.Append(CultureInfo.InvariantCulture, $"m{place - at} 0h{end - place}");
            place = at = end;
        }
        if (d.Length > 0)
            drawing.Path(d.ToString(), kind);
    }

    private static void WriteMark(PageDraft draft, PressMark mark)
    {
        Press press = draft.History.Presses[mark.Worst];
        double y = Top + (mark.Lane * LaneHeight) + (LaneHeight / 2.0);
        string says = $"{Phrases.Clock(press.TimeNs)} {draft.Account.Names.Short(press.Src)} to {draft.Account.Names.Short(press.Dst)}, {press.Asks}: {PressSection.MarkOf(press.Outcome)}, {PressSection.DetailOf(press)}";
        if (mark.Count > 1)
            says = $"{Phrases.Number(mark.Count)} presses until {Phrases.Clock(draft.History.Presses[mark.Last].TimeNs)}; the worst: {says}";
        draft.Markup.Open("g", ("class", "place press told " + Prose.ClassOf(PressSection.ToneOf(press.Outcome))), ("data-x", Markup.Number(mark.X)), ("data-y", Markup.Number(y)),
            ("data-press", (mark.Worst + 1).ToString(CultureInfo.InvariantCulture)), ("transform", $"translate({Markup.Number(Left + mark.X)} {Markup.Number(y)})"));
        draft.Markup.Element("title", says).Empty("path", ("d", Shape(press.Outcome))).Close();
    }

    /// <summary>A disc, a triangle, a cross, an empty diamond: to be told apart without colour.</summary>
    private static string Shape(PressOutcome outcome) => outcome switch
    {
        PressOutcome.All => "M-5 0a5 5 0 1 0 10 0a5 5 0 1 0 -10 0z",
        PressOutcome.Some => "M0 -6L6 5H-6z",
        PressOutcome.None => "M-5 -5L5 5M5 -5L-5 5",
        _ => "M0 -6L6 0L0 6L-6 0z",
    };

    private static void WriteLegend(Drawing drawing, Markup markup, double y)
    {
        double x = Left;
        foreach (PressOutcome outcome in (ReadOnlySpan<PressOutcome>)[PressOutcome.All, PressOutcome.Some, PressOutcome.None, PressOutcome.Unknown])
        {
            markup.Open("g", ("class", "press " + Prose.ClassOf(PressSection.ToneOf(outcome))), ("transform", $"translate({Markup.Number(x)} {Markup.Number(y - 4)})")).Empty("path", ("d", Shape(outcome))).Close();
            (string says, int width) = outcome switch { PressOutcome.All => ("answered by all", 160), PressOutcome.Some => ("by some", 125), PressOutcome.None => ("by nobody", 140), _ => ("cannot be told", 0) };
            drawing.Label(x + 11, y, $"{PressSection.MarkOf(outcome)}, {says}");
            x += width;
        }
    }

    private static string Ms(long timeNs) => (timeNs / NsPerMs).ToString(CultureInfo.InvariantCulture);
}
