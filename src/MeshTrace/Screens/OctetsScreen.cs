using System.Globalization;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Words;
using MeshTrace.Screens.Octets;

namespace MeshTrace.Screens;

/// <summary>What stands in a frame, from the link layer to the access layer, a line a field.</summary>
internal sealed class OctetsScreen(Workspace workspace, FrameStore store) : Screen(workspace)
{
    private readonly Grid _grid = new(new("layer", 13, 14), new("at", 3, 3, true), new("octets", 17, 17), new("field", 14, 26), new("reads", 22, 80));
    private IReadOnlyList<OctetLine> _lines = [];
    private int? _frame;
    private FrameOctets? _shown;
    private string? _problem;

    public override string Name => "Octets";
    public override string Asks => "What stands in this frame?";
    public override double RowsShare => 0.75;

    protected override string? Reason => !Workspace.IsSettled ? "Octets need the whole capture: still reading."
        : _frame is null ? "Choose a press, a PDU, a transfer or a beacon first; 'x' then shows its octets here."
        : _problem is { } why ? $"The octets cannot be read again: {why}." : "Reading the frame again from the file ...";
    protected override string None => "";

    public override IReadOnlyList<KeyWord> Keys => [new("< >", "other copies", "the copy heard before or after this one, of the same PDU"), new("[ ]", "", "the frame before or after this one in the capture")];

    public override IReadOnlyList<KeyWord> Marks =>
    [
        new("=", "", "these octets are not in the frame as they stand here: deobfuscated, decrypted, or put together from segments"),
        new("network, ...", "", "the layer that the octets belong to; fields without octets of their own are parts of the field above"),
    ];

    public override RecordPlace? Record => Workspace.IsSettled && _frame is { } frame ? new RecordPlace(RecordKind.Frame, frame) : null;
    public override int? Frame => _frame;

    protected override int Count
    {
        get
        {
            Look();
            return _lines.Count;
        }
    }

    /// <summary>Shows a frame from now on.</summary>
    public void Show(int frame)
    {
        if (_frame == frame)
            return;
        _frame = frame;
        _shown = null;
        _lines = [];
        Place(0);
    }

    public override void Enter()
    {
        if (_frame is null && Workspace.IsSettled && Workspace.Flood is { } flood && FirstFrame.OfFlood(Workspace.History, flood) is { } first)
            Show(first);
    }

    protected override void Build()
    {
    }

    public override void Follow(RowFollowing following, RecordPlace? chosen, int selected)
    {
        if (_frame is null)
            return;
        _frame = following.Frame(_frame);
        _shown = null;
        store.Forget();
        if (_frame is null)
            _lines = [];
    }

    private void Look()
    {
        if (!Workspace.IsSettled || _frame is not { } frame || _shown?.Frame == frame)
            return;
        _shown = store.Find(Workspace.History, frame, out _problem);
        if (_shown is not null)
            _lines = FrameAnnotation.Of(Workspace.Account, _shown);
    }

    public override IReadOnlyList<TextLine> Heading(int columns) => [_grid.Heading(columns)];

    public override TextLine Row(int row, int columns)
    {
        OctetLine line = _lines[row];
        bool sameLayer = row > 0 && _lines[row - 1].Layer == line.Layer;
        string at = line.At is { } place ? place.ToString(CultureInfo.InvariantCulture) : line.Octets.Length > 0 ? "=" : "";
        return _grid.Row(columns, new Cell(sameLayer ? "" : line.Layer, Tone.Strong), new Cell(at, Tone.Quiet), new Cell(Hex(line.Octets), line.At is null ? Tone.Good : Tone.Plain),
            new Cell(line.Field), new Cell(line.Reads));
    }

    private static string Hex(byte[] octets) => string.Join(' ', octets.Select(octet => octet.ToString("x2", CultureInfo.InvariantCulture)));

    public override IReadOnlyList<TextLine> Account(int columns)
    {
        var lines = new Lines(columns);
        if (!Workspace.IsSettled || _frame is not { } frame)
            return lines.All;
        CaptureHistory history = Workspace.History;
        FrameRow row = history.Frames[frame];
        if (RowCount > 0 && _lines[Selected] is { Reads.Length: > 0 } selected)
            lines.Say($"{selected.Field}: {selected.Reads}", tone: Tone.Strong);
        string file = row.Receiver < history.Receivers.Count ? SafeText.Strip(Path.GetFileName(history.Receivers[row.Receiver].File), 100) : "?";
        string channel = row.Channel is { } index ? $", channel {index}" : "", signal = row.Rssi is { } dbm ? $", {dbm} dBm" : "";
        lines.Say($"Frame {Phrases.Number(frame + 1)} of {Phrases.Number(history.Frames.Count)}, {Moment.Micro(row.TimeNs)}{channel}{signal}, in {file} at octet {Phrases.Number(row.FileOffset)}.");
        if (history.FloodOf(frame) is { } flood)
        {
            ReadOnlySpan<FloodCopy> copies = history.CopiesOf(flood);
            lines.Say($"Copy {Phrases.Number(PlaceOf(copies, frame) + 1)} of {Phrases.Number(copies.Length)} heard of this PDU: {FloodWords.Carries(Workspace.Account, flood)}.");
        }
        return lines.All;
    }

    public override bool Take(Stroke stroke)
    {
        if (!Workspace.IsSettled || _frame is not { } frame || stroke.Motion != Motion.None)
            return false;
        switch ((char)Math.Min(stroke.Letter.Value, char.MaxValue))
        {
            case '<': GoToCopy(frame, -1); return true;
            case '>': GoToCopy(frame, 1); return true;
            case '[': Show(Math.Max(0, frame - 1)); return true;
            case ']': Show(Math.Min(Workspace.History.Frames.Count - 1, frame + 1)); return true;
            default: return false;
        }
    }

    private void GoToCopy(int frame, int step)
    {
        if (Workspace.History.FloodOf(frame) is not { } flood)
            return;
        ReadOnlySpan<FloodCopy> copies = Workspace.History.CopiesOf(flood);
        int at = PlaceOf(copies, frame) + step;
        if (at >= 0 && at < copies.Length)
            Show(copies[at].Frame);
    }

    private static int PlaceOf(ReadOnlySpan<FloodCopy> copies, int frame)
    {
        for (int at = 0; at < copies.Length; at++)
            if (copies[at].Frame == frame)
                return at;
        return 0;
    }

    public override bool Matches(int row, Words words) => words.AreIn(null, null, null, _lines[row].Layer, _lines[row].Field, _lines[row].Reads);
}
