using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Excerpts;

/// <summary>
/// What the verdict on a press rests on: its requests and answers, the sequence numbers next to it of everyone who takes part, and the states told before.
/// </summary>
internal sealed class ExcerptPresses
{
    private readonly CaptureHistory _history;
    private readonly ExcerptFloods _floods;
    private readonly int _neighbours;
    private readonly Dictionary<ushort, List<int>> _byNode = [];
    private readonly Dictionary<(ushort Element, uint Status), List<int>> _states = [];

    public ExcerptPresses(CaptureHistory history, ExcerptFloods floods, int neighbours)
    {
        (_history, _floods, _neighbours) = (history, floods, neighbours);
        for (int row = 0; row < history.Floods.Count; row++)
            if (history.Floods[row].Src.IsUnicast)
                ListOf(_byNode, history.Directory.NodeOf(history.Floods[row].Src).Value).Add(row);
        foreach (List<int> own in _byNode.Values)
            own.Sort((left, right) => (_history.Floods[left].FirstTimeNs, left).CompareTo((_history.Floods[right].FirstTimeNs, right)));
        for (int row = 0; row < history.Messages.Count; row++)
        {
            ref MessageRow message = ref history.Messages[row];
            if (!message.IsControl && message.Decrypted && message.Key == MessageKey.Application && RequestKind.StatusOpcodes.Contains(message.Opcode.Value))
                ListOf(_states, (message.Src.Value, message.Opcode.Value)).Add(row);
        }
    }

    /// <summary>Takes what a press needs, and tells which nodes take part.</summary>
    public void Take(int row, HashSet<MeshAddress> nodes)
    {
        Press press = _history.Presses[row];
        foreach (int message in press.Messages)
            _floods.TakeMessage(message, ExcerptReason.Subject);
        foreach (PressAnswer answer in press.Answers)
            _floods.TakeMessage(answer.Message, ExcerptReason.Subject);
        uint? status = RequestKind.Find(press.Opcode)?.Status.Value;
        var elements = new HashSet<MeshAddress>(press.Expected ?? []);
        elements.UnionWith(press.Answers.Select(answer => answer.Element));
        foreach (MeshAddress element in elements)
            if (status is { } opcode && _states.TryGetValue((element.Value, opcode), out List<int>? told))
                TakeStates(press, told);
        elements.Add(press.Src);
        foreach (MeshAddress node in elements.Select(_history.Directory.NodeOf).Distinct())
        {
            nodes.Add(node);
            if (_byNode.TryGetValue(node.Value, out List<int>? floods))
                TakeNeighbours(press, floods);
        }
    }

    /// <summary>The last one before the press, and one that was published: it tells that the element publishes at all.</summary>
    private void TakeStates(Press press, List<int> told)
    {
        int before = told.FindLastIndex(message => _history.Messages[message].TimeNs < press.TimeNs);
        if (before >= 0)
            _floods.TakeMessage(told[before], ExcerptReason.State);
        int published = told.FindLastIndex(before >= 0 ? before : told.Count - 1, message => !_history.Messages[message].Dst.IsUnicast);
        if (published >= 0 || (published = told.FindIndex(message => !_history.Messages[message].Dst.IsUnicast)) >= 0)
            _floods.TakeMessage(told[published], ExcerptReason.State);
    }

    private void TakeNeighbours(Press press, List<int> floods)
    {
        int low = 0, high = floods.Count;
        while (low < high)
        {
            int middle = (low + high) / 2;
            if (_history.Floods[floods[middle]].FirstTimeNs < press.TimeNs)
                low = middle + 1;
            else
                high = middle;
        }
        for (int at = Math.Max(0, low - _neighbours); at < Math.Min(floods.Count, low + _neighbours); at++)
            _floods.Take(floods[at], ExcerptReason.Neighbour);
    }

    private static List<int> ListOf<TKey>(Dictionary<TKey, List<int>> map, TKey key) where TKey : notnull
    {
        if (!map.TryGetValue(key, out List<int>? rows))
            map.Add(key, rows = []);
        return rows;
    }
}
