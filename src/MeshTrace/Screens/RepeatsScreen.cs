using System.Globalization;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Repeats;
using MeshTrace.Protocol;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Words;
using MeshTrace.Screens.Reading;

namespace MeshTrace.Screens;

/// <summary>Does each node repeat as often as it is set to, on which channels, and who fills the air?</summary>
internal sealed class RepeatsScreen(Workspace workspace) : Screen(workspace)
{
    private const int BarColumns = 30;

    private readonly Grid _grid = new(new("node", 16, 28) { Middle = true }, new("set", 9, 10, true), new("heard", 11, 12, true), new("relay set", 9, 10, true), new("heard", 11, 12, true), new("of the air", 10, 36));
    private List<int> _rows = [];
    private double _mostShare;

    public override string Name => "Repeats";
    public override string Asks => "Does each node repeat as often as it is set to?";
    protected override string? Reason => Workspace.IsSettled ? null : "Repeats need the whole capture: still reading.";
    protected override string None => "No node is known: none was heard, and no description names any.";
    public override IReadOnlyList<KeyWord> Keys => [new("Enter", "timeline", "the timeline of the selected node")];
    public override IReadOnlyList<KeyWord> Marks =>
    [
        new("3 x 20", "", "3 transmissions of each PDU, 20 ms apart, to which 0-10 ms are added by chance. The wire counts retransmissions: one less"),
        new("!", "", "clearly fewer heard than set, although most of the node's traffic is heard"),
        new("of the air", "", "the node's share of the airtime of all mesh messages heard here, as far as the sender can be named"),
    ];

    public override RecordPlace? Record => Node is { } row ? new RecordPlace(RecordKind.Node, row) : null;
    public override int? Frame => Node is { } row ? FirstFrame.OfNode(Workspace.History, Workspace.Tracks, Workspace.History.Nodes[row].Unicast) : null;
    public override IReadOnlyList<(char Key, string Says, Narrowing Only)> Choices => Node is { } row
        ? [('n', $"node {Workspace.Account.Names.Short(Workspace.History.Nodes[row].Unicast)}", Workspace.Only with { Node = Workspace.History.Nodes[row].Unicast })] : [];

    protected override int Count => _rows.Count;
    private int? Node => Workspace.IsSettled && RowCount > 0 ? _rows[Selected] : null;

    protected override void Build()
    {
        _rows = [];
        if (!Workspace.IsSettled)
            return;
        IReadOnlyList<NodeRecord> nodes = Workspace.History.Nodes;
        for (int row = 0; row < nodes.Count; row++)
            if (Workspace.Only.Takes(Workspace.History, nodes[row]) && nodes[row].FloodsSent + nodes[row].FloodsRelayed > 0)
                _rows.Add(row);
        _mostShare = nodes.Count == 0 ? 0 : nodes.Max(node => Share(node.Unicast));
    }

    public override void Enter()
    {
        Refresh();
        if (Workspace.IsSettled && Workspace.Node is { } node)
            Place(_rows.FindIndex(row => Workspace.History.Nodes[row].Unicast == node));
    }

    protected override void OnSelected(int row) => Workspace.ChooseNode(Workspace.History.Nodes[_rows[row]].Unicast);

    public override IReadOnlyList<TextLine> Heading(int columns) => [_grid.Heading(columns)];

    public override TextLine Row(int row, int columns)
    {
        MeshAddress node = Workspace.History.Nodes[_rows[row]].Unicast;
        NodeRepeats? repeats = Workspace.History.Repeats;
        TransmitSetting? own = repeats?.Settings.NetworkTransmitAt(node, long.MaxValue), relay = repeats?.Settings.RelayAt(node, long.MaxValue).Retransmit;
        double share = Share(node);
        return _grid.Row(columns, new Cell(Workspace.Account.Names.Short(node)), new Cell(RepeatWords.Set(own) ?? "?"), Heard(repeats?.NetworkTransmitOf(node), own, row), new Cell(RepeatWords.Set(relay) ?? "?"),
            Heard(repeats?.RelayRetransmitOf(node), relay, row), new Cell(share > 0 ? $"{Percent(share),4} {Bar(share, _mostShare, columns < 100 ? 5 : BarColumns)}" : ""));
    }

    private double Share(MeshAddress node) => Workspace.Tracks.All.AirtimeUs == 0 ? 0 : (double)Workspace.Tracks.RadioOf(node).AirtimeUs / Workspace.Tracks.All.AirtimeUs;

    private static string Percent(double share) => (share * 100).ToString("0", CultureInfo.InvariantCulture) + "%";

    private Cell Heard(RepeatCount? count, TransmitSetting? setting, int row)
    {
        if (count is null || RepeatWords.Heard(count) is not { } text)
            return new Cell("");
        return setting is { } set && count.Transmissions < set.Transmissions && IsWellHeard(count, row) ? new Cell("! " + text, Tone.Mixed) : new Cell(text);
    }

    /// <summary>Fewer repeats than set mean something only with enough samples of a node that is heard nearly whole (thresholds ours).</summary>
    private bool IsWellHeard(RepeatCount count, int row)
    {
        const int enough = 10;
        const double nearlyWhole = 0.9;
        return count.Samples >= enough && Workspace.History.Nodes[_rows[row]].HeardShare >= nearlyWhole;
    }

    public override IReadOnlyList<TextLine> Account(int columns)
    {
        var lines = new Lines(columns);
        if (Node is not { } row)
            return lines.All;
        NodeRecord node = Workspace.History.Nodes[row];
        NodeRepeats? repeats = Workspace.History.Repeats;
        lines.Say(Workspace.Account.Names.Full(node.Unicast), tone: Tone.Strong);
        Say(lines, "Network transmit", repeats?.NetworkTransmitOf(node.Unicast), repeats?.Settings.NetworkTransmitAt(node.Unicast, long.MaxValue));
        Say(lines, "Relay retransmit", repeats?.RelayRetransmitOf(node.Unicast), repeats?.Settings.RelayAt(node.Unicast, long.MaxValue).Retransmit);
        RadioUse use = Workspace.Tracks.RadioOf(node.Unicast);
        if (use.Packets > 0)
        {
            long most = Math.Max(use.Channel37, Math.Max(use.Channel38, use.Channel39));
            foreach ((int channel, long packets) in (ReadOnlySpan<(int, long)>)[(37, use.Channel37), (38, use.Channel38), (39, use.Channel39)])
                lines.Add(new Cell($"  channel {channel}  {Phrases.Number(packets),8}  "), new Cell(Bar(packets, most, BarColumns)));
            lines.Say($"{Phrases.Duration(use.AirtimeUs / 1000.0)} of airtime heard, {Phrases.Percent(Share(node.Unicast))} of that of all mesh messages heard here.", "  ");
        }
        else
            lines.Say("Nothing that was heard can be named as sent by it, or the file does not tell channels.", "  ", Tone.Quiet);
        return lines.All;
    }

    private static void Say(Lines lines, string what, RepeatCount? count, TransmitSetting? setting)
    {
        string set = setting is { } known ? $"set to {Phrases.Count(known.Transmissions, "transmission")}, {known.IntervalMs} ms apart ({RepeatWords.Origin(known.Origin)})" : "nobody says what it is set to";
        if (count is not { Samples: > 0 })
        {
            lines.Say($"{what}: {set}; none was heard.", "  ");
            return;
        }
        string interval = count.MedianDistanceMs is { } ms ? $", median distance {ms.ToString("0.0", CultureInfo.InvariantCulture)} ms" : "";
        lines.Say($"{what}: {set}; heard {Phrases.Count(count.Transmissions, "transmission")}{interval}, from {Phrases.Count(count.Samples, "PDU")}.", "  ");
        int most = Enumerable.Range(1, RepeatCount.MostTransmissions + 1).Max(count.PdusWith);
        for (int events = 1; events <= RepeatCount.MostTransmissions + 1; events++)
            if (count.PdusWith(events) is > 0 and var pdus)
                lines.Add(new Cell($"    heard {(events > RepeatCount.MostTransmissions ? "more " : $"{events} x  ")} {Phrases.Number(pdus),8}  "), new Cell(Bar(pdus, most, BarColumns)));
    }

    private static string Bar(double value, double most, int columns) => most <= 0 ? "" : new string('█', value <= 0 ? 0 : Math.Max(1, (int)Math.Round(columns * value / most)));

    public override bool Matches(int row, Words words) => words.AreIn(Workspace.History.Nodes[_rows[row]].Unicast, null, null);
}
