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

    /// <summary>Rows of those that may share their (IV index, SRC, SEQ) with others.</summary>
    private readonly Dictionary<(ushort Src, uint IvIndex, uint Seq), List<int>> _sameSeq = [];

    public ActsSeen(CaptureHistory history, Func<Press, MeshAddress, bool> owesAnAnswer)
    {
        var answerers = new AddressMap<long>();
        var pressers = new AddressMap<HighestSeq>();
        var transactions = new Dictionary<(ushort Src, ushort Dst, byte Tid), int>();
        _before = new int[history.Presses.Count];
        for (int row = 0; row < history.Presses.Count; row++)
        {
            Press press = history.Presses[row];
            pressers.TryAdd(press.Src, default);
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
        NoteSameSeq(history, pressers);
    }

    /// <summary>A number that two floods have lies once at or below the highest before, which is rare: only then all floods are gone over again.</summary>
    private void NoteSameSeq(CaptureHistory history, AddressMap<HighestSeq> pressers)
    {
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.Credentials != Credentials.Flooding || !pressers.Contains(flood.Src))
                continue;
            ref HighestSeq highest = ref pressers.Entry(flood.Src);
            var now = new HighestSeq(true, flood.IvIndex, flood.Seq);
            if (!highest.Any || now.IsAbove(highest))
                highest = now;
            else
                _sameSeq.TryAdd((flood.Src.Value, flood.IvIndex, flood.Seq), []);
        }
        for (int row = 0; row < history.Floods.Count && _sameSeq.Count > 0; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.Credentials == Credentials.Flooding && pressers.Contains(flood.Src) && _sameSeq.TryGetValue((flood.Src.Value, flood.IvIndex, flood.Seq), out List<int>? rows))
                rows.Add(row);
        }
    }

    /// <summary>When an element acted on such requests, in the order of the presses; null where it never did.</summary>
    public List<long>? Times(MeshAddress element, PressedBy by) => _acts.GetValueOrDefault(new Act(element.Value, by.Dst.Value, by.Status, by.AppKey));

    /// <summary>True if an element acted on such a request, with no change of its configuration heard between that and a press.</summary>
    /// <param name="times">As <see cref="Times"/> gives them.</param>
    /// <param name="atNs">Time of the press.</param>
    /// <param name="model">Its node.</param>
    public static bool ActedAround(List<long>? times, long atNs, NodeModel model)
    {
        if (times is null)
            return false;
        if (atNs == CapturedFrame.NoTime || times == AnyTime)
            return true;
        int next = times.BinarySearch(atNs);
        if (next < 0)
            next = ~next;
        return (next < times.Count && !model.ChangedBetween(atNs, times[next])) || (next > 0 && !model.ChangedBetween(times[next - 1], atNs));
    }

    /// <summary>What came of the presses of a node at an element that owed an answer to them, by their TTL; null where there are none.</summary>
    public TtlTallies? Tallies(MeshAddress srcNode, MeshAddress element) => _presses.GetValueOrDefault(new AddressPair(srcNode, element));

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

    /// <summary>Highest (IV index, SEQ) of a source so far.</summary>
    private readonly record struct HighestSeq(bool Any, uint IvIndex, uint Seq)
    {
        public bool IsAbove(HighestSeq other) => IvIndex > other.IvIndex || (IvIndex == other.IvIndex && Seq > other.Seq);
    }
}
