using System.Runtime.InteropServices;
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
    /// <summary>An answer may take so long, 20 to 500 ms of which the element waits (§3.7.3.1): a request that was repeated within this time is the same try (ours).</summary>
    private const long AnswerTakesNs = 600_000_000;

    /// <summary>Times of the acts of an element whose configuration never changed: that it acted at all tells the same.</summary>
    private static readonly List<long> AnyTime = [];

    private readonly Dictionary<Act, List<long>> _acts = [];

    /// <summary>From the node that pressed to an element that should act.</summary>
    private readonly Dictionary<AddressPair, TtlTallies> _presses = [];

    /// <summary>Row of the press before with the same SRC, DST and TID, or -1, by row.</summary>
    private readonly int[] _before;

    /// <summary>Rows of those that share their (IV index, SRC, SEQ) with others, which is rare.</summary>
    private readonly Dictionary<(ushort Src, uint IvIndex, uint Seq), List<int>> _sameSeq = [];

    public ActsSeen(CaptureHistory history, Func<Press, MeshAddress, bool> owesAnAnswer)
    {
        var answerers = new AddressMap<long>();
        var pressers = new HashSet<ushort>();
        var transactions = new Dictionary<(ushort Src, ushort Dst, byte Tid), int>();
        _before = new int[history.Presses.Count];
        for (int row = 0; row < history.Presses.Count; row++)
        {
            Press press = history.Presses[row];
            pressers.Add(press.Src.Value);
            var transaction = (press.Src.Value, press.Dst.Value, press.Tid);
            _before[row] = transactions.GetValueOrDefault(transaction, -1);
            transactions[transaction] = row;
            ref MessageRow message = ref history.Messages[press.Messages[0]];
            uint status = RequestKind.Find(press.Opcode)!.Status.Value;
            answerers.Clear();
            foreach (ref readonly PressAnswer answer in CollectionsMarshal.AsSpan(press.Answers))
            {
                AddAct(history, new Act(answer.Element.Value, press.Dst.Value, status, message.AppKey), press.TimeNs);
                answerers.TryAdd(answer.Element, answer.TimeNs);
            }
            if (press.Expected is not { } expected || TtlSent(history, press) is not { } ttl)
                continue;
            MeshAddress srcNode = history.Directory.NodeOf(press.Src);
            for (int at = 0; at < expected.Count; at++)
            {
                MeshAddress element = expected[at];
                if (answerers.TryGetValue(element, out long answeredNs))
                    Count(new AddressPair(srcNode, element), new TtlTally(ttl, 0, 1, InVain(history, press, answeredNs - AnswerTakesNs)));
                else if (owesAnAnswer(press, element))
                    Count(new AddressPair(srcNode, element), new TtlTally(ttl, 1, 0, Math.Max(1, InVain(history, press, long.MaxValue))));
            }
        }
        var floods = new Dictionary<(ushort Src, uint IvIndex, uint Seq), int>();
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.Credentials != Credentials.Flooding || !pressers.Contains(flood.Src.Value))
                continue;
            var key = (flood.Src.Value, flood.IvIndex, flood.Seq);
            if (floods.TryAdd(key, row))
                continue;
            if (!_sameSeq.TryGetValue(key, out List<int>? rows))
                _sameSeq.Add(key, rows = [floods[key]]);
            rows.Add(row);
        }
    }

    /// <summary>True if the element answered such a request, with no change of its configuration heard between that and this press.</summary>
    public bool ActsOn(in Scene scene)
    {
        NodeModel model = scene.Model;
        if (!_acts.TryGetValue(new Act(scene.Element.Value, scene.Press.Dst.Value, scene.Shared.Status, scene.AppKey), out List<long>? times))
            return false;
        long at = scene.Press.TimeNs;
        if (at == CapturedFrame.NoTime || times == AnyTime)
            return true;
        int next = times.BinarySearch(at);
        if (next < 0)
            next = ~next;
        return (next < times.Count && !model.ChangedBetween(at, times[next])) || (next > 0 && !model.ChangedBetween(times[next - 1], at));
    }

    /// <summary>What came of the presses of a node that were sent with at most this TTL, at an element that owed an answer to them.</summary>
    public TtlTally AtMost(MeshAddress srcNode, MeshAddress element, int ttl) =>
        _presses.TryGetValue(new AddressPair(srcNode, element), out TtlTallies? counts) ? counts.AtMost(ttl) : new TtlTally(ttl, 0, 0, 0);

    /// <summary>Row of an earlier flood with the same (IV index, SRC, SEQ) less than 10 s before, or -1.</summary>
    public int EarlierWithSameSeq(CaptureHistory history, int row)
    {
        ref FloodRow flood = ref history.Floods[row];
        if (_sameSeq.TryGetValue((flood.Src.Value, flood.IvIndex, flood.Seq), out List<int>? rows))
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
        if (_before[row] is not (>= 0 and var before))
            return null;
        return press.TimeNs == CapturedFrame.NoTime || press.TimeNs - history.Presses[before].TimeNs <= PressDetector.TransactionNs ? before : null;
    }

    private void AddAct(CaptureHistory history, Act act, long timeNs)
    {
        if (!_acts.TryGetValue(act, out List<long>? times))
            _acts.Add(act, times = history.Configuration?.OfNode(history.Directory.NodeOf(new MeshAddress(act.Element))) is { Count: 0 } ? AnyTime : []);
        if (times != AnyTime)
            times.Add(timeNs);
    }

    private void Count(AddressPair way, TtlTally one)
    {
        if (!_presses.TryGetValue(way, out TtlTallies? counts))
            _presses.Add(way, counts = new TtlTallies());
        counts.Add(one);
    }

    /// <summary>How many of the requests were in vain, sent before a time: an acknowledged one asks for an answer each time that it is repeated (Mesh Protocol 1.1 §3.7.4.2).</summary>
    private static int InVain(CaptureHistory history, Press press, long beforeNs)
    {
        int requests = 0;
        if (press.Acknowledged && press.TimeNs != CapturedFrame.NoTime)
            foreach (int message in CollectionsMarshal.AsSpan(press.Messages))
                if (history.Messages[message].TimeNs < beforeNs)
                    requests++;
        return requests;
    }

    private static int? TtlSent(CaptureHistory history, Press press)
    {
        int? ttl = null;
        foreach (int message in CollectionsMarshal.AsSpan(press.Messages))
            foreach (int flood in history.FloodSpanOf(message))
                if (history.Floods[flood].OriginalTtl is { } sent)
                    ttl = Math.Max(ttl ?? 0, sent);
        return ttl;
    }

    /// <summary>What an element did on a press to an address, and under which key.</summary>
    private readonly record struct Act(ushort Element, ushort Dst, uint Status, int AppKey);
}
