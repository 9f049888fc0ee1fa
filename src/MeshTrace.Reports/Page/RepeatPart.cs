using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Repeats;
using MeshTrace.Protocol;
using MeshTrace.Reports.Page.Charts;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Page;

/// <summary>How often each node transmits a PDU, as set and as heard, and how the channels share the frames.</summary>
internal static class RepeatPart
{
    private const int MostRows = 200, MostBars = 40, MostReceivers = 12;

    public static void Write(PageDraft draft)
    {
        WriteRepeats(draft);
        WriteMessages(draft);
        WriteChannels(draft);
    }

    private static void WriteRepeats(PageDraft draft)
    {
        List<MeshAddress> nodes = [.. draft.History.Nodes.Where(node => node.FloodsSent + node.FloodsRelayed > 0).Select(node => node.Unicast)];
        if (draft.History.Repeats is not { } repeats || nodes.Count == 0)
        {
            draft.Says("No node was heard whose repeats could be counted.");
            return;
        }
        List<Bar> bars = [];
        foreach (MeshAddress node in nodes)
        {
            Add(bars, draft.Account.Names.Short(node), repeats.NetworkTransmitOf(node), repeats.Settings.NetworkTransmitAt(node, long.MaxValue));
            Add(bars, draft.Account.Names.Short(node) + ", relaying", repeats.RelayRetransmitOf(node), repeats.Settings.RelayAt(node, long.MaxValue).Retransmit);
        }
        if (bars.Count > 0)
            BarChart.Write(draft.Markup, "repeat-chart", "Transmissions of each PDU, as heard and as set", "A bar as long as the transmissions heard, with an upright line where the setting is. The table below holds the same numbers.",
                [.. bars.Take(MostBars)], RepeatCount.MostTransmissions);
        using (var grid = new Grid(draft.Markup, "Transmissions of each PDU and the time between them", "Node", "Own, set", "Own, heard", "Relayed, set", "Relayed, heard"))
        {
            foreach (MeshAddress node in nodes.Take(MostRows))
                grid.Row(draft.Name(node), Set(repeats.Settings.NetworkTransmitAt(node, long.MaxValue)), Heard(repeats.NetworkTransmitOf(node)),
                    Set(repeats.Settings.RelayAt(node, long.MaxValue).Retransmit), Heard(repeats.RelayRetransmitOf(node)));
        }
        draft.LeftOut(nodes.Count - MostRows, "nodes", "'meshtrace browse' shows all");
        draft.SaysQuietly("3 x 20 ms: three transmissions, 20 ms apart, to which 0 to 10 ms are added by chance. With few PDUs heard the true number may be higher than the one heard, never clearly lower.");
    }

    private static void Add(List<Bar> bars, string name, RepeatCount? heard, TransmitSetting? set)
    {
        if (heard is { Samples: > 0 })
            bars.Add(new Bar(name, heard.Transmissions, $"heard {heard.Transmissions}, {(set is { } known ? $"set to {known.Transmissions}" : "setting not known")}") { Mark = set?.Transmissions });
    }

    private static string Set(TransmitSetting? setting) => setting is { } known ? $"{RepeatWords.Set(known)} ({RepeatWords.Origin(known.Origin)})" : "not known";

    private static string Heard(RepeatCount? count) => RepeatWords.Heard(count) is { } heard ? $"{heard} (from {Phrases.Count(count!.Samples, "PDU")})" : "-";

    /// <summary>Messages that were sent again as new messages, by who did it and where to.</summary>
    private static void WriteMessages(PageDraft draft)
    {
        List<(RepeatKind Kind, MeshAddress Src, MeshAddress Dst, int Times, int Most)> ways =
        [
            .. draft.History.MessageRepeats.Where(repeat => repeat.Messages.Count > 0)
                .GroupBy(repeat => (repeat.Kind, draft.History.Messages[repeat.Messages[0]].Src, draft.History.Messages[repeat.Messages[0]].Dst))
                .Select(way => (way.Key.Kind, way.Key.Src, way.Key.Dst, way.Count(), way.Max(repeat => repeat.Messages.Count))).OrderByDescending(way => way.Item4),
        ];
        if (ways.Count == 0)
            return;
        using (var grid = new Grid(draft.Markup, "Messages sent again with a new sequence number", "From", "To", "Who repeats", new Column("How often", true), new Column("Most messages heard of one", true)))
        {
            foreach ((RepeatKind kind, MeshAddress src, MeshAddress dst, int times, int most) in ways.Take(MostRows))
                grid.Row(draft.Name(src), draft.Name(dst), kind switch { RepeatKind.Publication => "its publication (Publish Retransmit)", RepeatKind.Transaction => "the application, in the same transaction", _ => "cannot be told" },
                    Phrases.Number(times), Phrases.Number(most));
        }
        draft.LeftOut(ways.Count - MostRows, "more of this kind", "the most frequent ones are shown");
    }

    private static void WriteChannels(PageDraft draft)
    {
        List<ReceiverView> views = [.. draft.History.ReceiverViews.Where(view => view.On37 + view.On38 + view.On39 > 0)];
        if (views.Count == 0)
        {
            draft.Says("The capture does not tell on which channels its frames were heard.");
            return;
        }
        List<Bar> bars = [];
        long most = 1;
        foreach (ReceiverView view in views.Take(MostReceivers))
        {
            foreach ((int channel, long frames) in (ReadOnlySpan<(int, long)>)[(37, view.On37), (38, view.On38), (39, view.On39)])
            {
                string receiver = views.Count > 1 ? $"receiver {view.Receiver + 1}, " : "";
                bars.Add(new Bar($"{receiver}channel {channel}", frames, Phrases.Count(frames, "frame")));
                most = Math.Max(most, frames);
            }
        }
        BarChart.Write(draft.Markup, "channel-chart", "Frames by advertising channel", "A bar a channel and receiver. The table below holds the same numbers.", bars, most);
        using (var grid = new Grid(draft.Markup, "Frames by receiver and channel", new Column("Receiver", true), new Column("Channel 37", true), new Column("Channel 38", true), new Column("Channel 39", true), new Column("Wrong CRC", true)))
        {
            foreach (ReceiverView view in views.Take(MostReceivers))
                grid.Row(Phrases.Number(view.Receiver + 1), Phrases.Number(view.On37), Phrases.Number(view.On38), Phrases.Number(view.On39), Phrases.Number(view.BadCrc));
        }
        draft.LeftOut(views.Count - MostReceivers, "receivers", "the first ones are shown");
    }
}
