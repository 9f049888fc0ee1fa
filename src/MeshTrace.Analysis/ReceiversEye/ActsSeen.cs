using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.ReceiversEye;

/// <summary>
/// What elements were seen to act on: one that answers such a request has key, model, subscription and binding for it, whatever the description
/// says, until somebody changes its configuration. And how often presses stayed without an answer, by the TTL they were sent with.
/// </summary>
internal sealed class ActsSeen
{
    private readonly Dictionary<(ushort Element, ushort Dst, uint Status, int AppKey), List<long>> _acts = [];
    private readonly Dictionary<(ushort SrcNode, ushort Element, int Ttl), int> _silent = [], _answered = [];
    private readonly Dictionary<(ushort Src, ushort Dst, byte Tid), List<int>> _transactions = [];
    private readonly HashSet<ushort> _pressers = [];
    private readonly Dictionary<(ushort Src, uint IvIndex, uint Seq), List<int>> _floods = [];

    public ActsSeen(CaptureHistory history, Func<Press, MeshAddress, bool> owesAnAnswer)
    {
        for (int row = 0; row < history.Presses.Count; row++)
        {
            Press press = history.Presses[row];
            _pressers.Add(press.Src.Value);
            var transaction = (press.Src.Value, press.Dst.Value, press.Tid);
            if (!_transactions.TryGetValue(transaction, out List<int>? same))
                _transactions.Add(transaction, same = []);
            same.Add(row);
            ref MessageRow message = ref history.Messages[press.Messages[0]];
            foreach (PressAnswer answer in press.Answers)
            {
                var key = (answer.Element.Value, press.Dst.Value, RequestKind.Find(press.Opcode)!.Status.Value, message.AppKey);
                if (!_acts.TryGetValue(key, out List<long>? times))
                    _acts.Add(key, times = []);
                times.Add(press.TimeNs);
            }
            if (press.Expected is not { } expected || TtlSent(history, press) is not { } ttl)
                continue;
            MeshAddress srcNode = history.Directory.NodeOf(press.Src);
            foreach (MeshAddress element in expected)
            {
                bool answered = press.Answers.Exists(answer => answer.Element == element);
                if (!answered && !owesAnAnswer(press, element))
                    continue;
                Dictionary<(ushort SrcNode, ushort Element, int Ttl), int> counts = answered ? _answered : _silent;
                var key = (srcNode.Value, element.Value, ttl);
                counts[key] = counts.GetValueOrDefault(key) + 1;
            }
        }
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.Credentials != Credentials.Flooding || !_pressers.Contains(flood.Src.Value))
                continue;
            var key = (flood.Src.Value, flood.IvIndex, flood.Seq);
            if (!_floods.TryGetValue(key, out List<int>? rows))
                _floods.Add(key, rows = new List<int>(1));
            rows.Add(row);
        }
    }

    /// <summary>True if the element answered such a request, with no change of its configuration heard between that and this press.</summary>
    public bool ActsOn(Scene scene, NodeModel model)
    {
        var key = (scene.Element.Value, scene.Press.Dst.Value, RequestKind.Find(scene.Press.Opcode)!.Status.Value, scene.AppKey);
        if (!_acts.TryGetValue(key, out List<long>? times))
            return false;
        long at = scene.Press.TimeNs;
        if (at == CapturedFrame.NoTime)
            return true;
        int next = times.BinarySearch(at);
        if (next < 0)
            next = ~next;
        return (next < times.Count && !model.ChangedBetween(at, times[next])) || (next > 0 && !model.ChangedBetween(times[next - 1], at));
    }

    /// <summary>Presses of a node that this element owed an answer to and gave none, sent with at most this TTL.</summary>
    public int SilentAtMost(MeshAddress srcNode, MeshAddress element, int ttl) => AtMost(_silent, srcNode, element, ttl);

    /// <summary>Presses of a node that this element answered, sent with at most this TTL.</summary>
    public int AnsweredAtMost(MeshAddress srcNode, MeshAddress element, int ttl) => AtMost(_answered, srcNode, element, ttl);

    /// <summary>Row of an earlier flood with the same (IV index, SRC, SEQ) less than 10 s before, or -1.</summary>
    public int EarlierWithSameSeq(CaptureHistory history, int row)
    {
        ref FloodRow flood = ref history.Floods[row];
        if (_floods.TryGetValue((flood.Src.Value, flood.IvIndex, flood.Seq), out List<int>? rows))
            foreach (int other in rows)
                if (other < row && (history.Floods[other].Dst != flood.Dst || !history.Floods[other].TransportPdu.SequenceEqual(flood.TransportPdu))
                    && flood.FirstTimeNs != CapturedFrame.NoTime && flood.FirstTimeNs - history.Floods[other].LastTimeNs < FloodTable.LongestSilenceNs)
                    return other;
        return -1;
    }

    /// <summary>Row of the press before with the same SRC, DST and TID within 6 s, or null.</summary>
    public int? EarlierTransaction(CaptureHistory history, int row)
    {
        Press press = history.Presses[row];
        List<int> same = _transactions[(press.Src.Value, press.Dst.Value, press.Tid)];
        int at = same.BinarySearch(row);        // they are in order
        if (at < 1)
            return null;
        int before = same[at - 1];
        return press.TimeNs == CapturedFrame.NoTime || press.TimeNs - history.Presses[before].TimeNs <= PressDetector.TransactionNs ? before : null;
    }

    private static int AtMost(Dictionary<(ushort SrcNode, ushort Element, int Ttl), int> counts, MeshAddress srcNode, MeshAddress element, int ttl)
    {
        int sum = 0;
        for (int lower = 0; lower <= ttl; lower++)
            sum += counts.GetValueOrDefault((srcNode.Value, element.Value, lower));
        return sum;
    }

    private static int? TtlSent(CaptureHistory history, Press press)
    {
        int? ttl = null;
        foreach (int message in press.Messages)
            foreach (int flood in history.FloodsOf(message))
                if (history.Floods[flood].OriginalTtl is { } sent)
                    ttl = Math.Max(ttl ?? 0, sent);
        return ttl;
    }
}
