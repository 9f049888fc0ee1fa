using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Excerpts;

/// <summary>
/// Decides which frames make an excerpt: those asked for, and those without which they could not be read or judged as in the whole capture.
/// </summary>
public sealed class ExcerptSelector
{
    /// <summary>Where a capture has no times: frames before and behind the press (ours).</summary>
    private const int FramesAroundPress = 2_000;

    private readonly CaptureHistory _history;
    private readonly ExcerptRequest _request;
    private readonly ExcerptContext _context;
    private readonly ExcerptSelection _selection;
    private readonly ExcerptFloods _floods;

    private ExcerptSelector(CaptureHistory history, ExcerptRequest request, ExcerptContext context)
    {
        (_history, _request, _context) = (history, request, context);
        _selection = new ExcerptSelection(history.Frames.Count);
        _floods = new ExcerptFloods(history, _selection);
    }

    /// <summary>Selects the frames.</summary>
    /// <param name="history">The whole capture, completed.</param>
    /// <param name="request">Exactly one of a press, a time and a node.</param>
    /// <param name="context">How much beside it.</param>
    public static ExcerptSelection Select(CaptureHistory history, ExcerptRequest request, ExcerptContext context)
    {
        ArgumentNullException.ThrowIfNull(history);
        ArgumentNullException.ThrowIfNull(request);
        return new ExcerptSelector(history, request, context).Run();
    }

    private ExcerptSelection Run()
    {
        List<int> presses = Presses();
        _selection.Presses = presses;
        if (_context.Whole)
        {
            for (int frame = 0; frame < _selection.Of; frame++)
                _selection.Take(frame, ExcerptReason.Time);
            return _selection;
        }
        if (_request.Node is { } element)
            TakeNode(_history.Directory.NodeOf(element));
        else if (_request.Press is not null)
            presses.ForEach(TakeAround);
        else
            TakeTime(_request.FromNs ?? long.MinValue, _request.UntilNs ?? long.MaxValue, _context.AroundTimeNs);
        var nodes = new HashSet<MeshAddress>();
        if (presses.Count > 0)
        {
            var subjects = new ExcerptPresses(_history, _floods, _context.Neighbours);
            foreach (int press in presses)
                subjects.Take(press, nodes);
        }
        if (_request.Node is { } node)
            nodes.Add(_history.Directory.NodeOf(node));
        new ExcerptExplanations(_history, _selection, _floods).Run(presses, nodes);
        return _selection;
    }

    /// <summary>The presses that the excerpt is about.</summary>
    private List<int> Presses()
    {
        if (_request.Press is { } press)
            return [press];
        var rows = new List<int>();
        MeshAddress? node = _request.Node is { } element ? _history.Directory.NodeOf(element) : null;
        for (int row = 0; row < _history.Presses.Count; row++)
        {
            Press candidate = _history.Presses[row];
            if (node is { } asked ? Concerns(candidate, asked) : candidate.TimeNs >= (_request.FromNs ?? long.MinValue) && candidate.TimeNs <= (_request.UntilNs ?? long.MaxValue))
                rows.Add(row);
        }
        return rows;
    }

    /// <summary>The node made it, should act on it, or answered it.</summary>
    private bool Concerns(Press press, MeshAddress node) =>
        _history.Directory.NodeOf(press.Src) == node || (press.Expected?.Any(element => _history.Directory.NodeOf(element) == node) ?? _history.Directory.NodeOf(press.Dst) == node)
        || press.Answers.Exists(answer => _history.Directory.NodeOf(answer.Element) == node);

    private void TakeAround(int row)
    {
        Press press = _history.Presses[row];
        int first = _history.CopiesOf(_history.FloodsOf(press.Messages[0])[0])[0].Frame;
        if (press.TimeNs == CapturedFrame.NoTime)
        {
            for (int frame = Math.Max(0, first - FramesAroundPress); frame < Math.Min(_selection.Of, first + FramesAroundPress); frame++)
                _selection.Take(frame, ExcerptReason.Time);
            return;
        }
        long last = _history.Messages[press.Messages[^1]].TimeNs;
        foreach (PressAnswer answer in press.Answers)
            last = Math.Max(last, answer.TimeNs);
        TakeTime(press.TimeNs, Math.Max(last, press.TimeNs), _context.AroundPressNs);
    }

    private void TakeTime(long fromNs, long untilNs, long around)
    {
        long from = fromNs < long.MinValue + around ? long.MinValue : fromNs - around, until = untilNs > long.MaxValue - around ? long.MaxValue : untilNs + around;
        for (int frame = 0; frame < _selection.Of; frame++)
            if (_history.Frames[frame].TimeNs is var time && time >= from && time <= until && time != CapturedFrame.NoTime)
                _selection.Take(frame, ExcerptReason.Time);
    }

    /// <summary>What it sent and what was sent to it; and what it most likely passed on for others.</summary>
    private void TakeNode(MeshAddress node)
    {
        for (int flood = 0; flood < _history.Floods.Count; flood++)
        {
            ref Floods.FloodRow row = ref _history.Floods[flood];
            if (_history.Directory.NodeOf(row.Src) == node || (row.Dst.IsUnicast && _history.Directory.NodeOf(row.Dst) == node) || IsRelayedBy(flood, node))
                _floods.Take(flood, ExcerptReason.Subject);
        }
    }

    private bool IsRelayedBy(int flood, MeshAddress node)
    {
        foreach (FloodCopy copy in _history.CopiesOf(flood))
            if (_history.SenderOf(copy) == node)
                return true;
        return false;
    }
}
