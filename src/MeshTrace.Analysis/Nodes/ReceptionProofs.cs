using System.Runtime.InteropServices;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Nodes;

/// <summary>A message that a node must have received, because it answered it.</summary>
/// <param name="TimeNs">When the answer was heard.</param>
/// <param name="IvIndex">IV index of the message.</param>
/// <param name="Seq">Its SEQ (of SeqAuth).</param>
/// <param name="Ttl">TTL it was sent with, or null where its originator was not heard.</param>
/// <param name="Message">Row of the message, or -1 for a transfer that never was heard whole.</param>
/// <param name="Answer">Row of the answer, or -1 for a Segment Acknowledgment.</param>
/// <param name="Transfer">Row of the acknowledged transfer, or -1.</param>
public readonly record struct ReceptionProof(long TimeNs, uint IvIndex, uint Seq, byte? Ttl, int Message, int Answer, int Transfer);

/// <summary>
/// What each node must have received from whom, by its answers: so the air shows a part of its replay protection list (Mesh Protocol 1.1 §3.8.8) and
/// which TTL was enough. Of several requests that one Status may answer, the lowest SEQ counts: that one was received at least.
/// </summary>
public sealed class ReceptionProofs
{
    /// <summary>Timeout of an acknowledged message (§3.7.4.2).</summary>
    private const long LongestAnswerNs = 30_000_000_000;

    /// <summary>Requests of one source that may still be answered, at most.</summary>
    private const int MostOpen = 64;

    private readonly CaptureHistory _history;

    /// <summary>What a node received from an element.</summary>
    private readonly Dictionary<AddressPair, RisingProofs> _proofs = [];

    /// <summary>What came to a node from another node with the lowest TTL.</summary>
    private readonly Dictionary<AddressPair, LeastTtlProof> _leastTtl = [];
    private readonly Dictionary<ushort, int> _mostTtl = [];
    private readonly Dictionary<ushort, List<long>> _newSources = [];
    private readonly Dictionary<(ushort Src, uint Answer), List<int>> _open = [];
    private int _ttlRequest = -1;
    private byte? _ttl;

    /// <remarks>
    /// Presses come first: their requests are known, so their proofs rise from one to the next, and what the messages and transfers tell besides is mostly known then.
    /// </remarks>
    internal ReceptionProofs(CaptureHistory history)
    {
        _history = history;
        foreach (Press press in history.Presses)
            TakePress(press);
        for (int row = 0; row < history.Transfers.Count; row++)
            TakeTransfer(row, history.Transfers[row]);
        for (int row = 0; row < history.Messages.Count; row++)
        {
            ref MessageRow message = ref history.Messages[row];
            if (message.IsControl || !message.Decrypted)
                continue;
            if (AccessCatalogue.Find(message.Opcode)?.Response is { } response)
                Open(row, message.Src, response);
            if (message.Dst.IsUnicast)
                TakeAnswer(row, in message);
        }
        foreach ((AddressPair way, RisingProofs proofs) in _proofs)
        {
            proofs.Finish();
            if (!_newSources.TryGetValue(way.To, out List<long>? times))
                _newSources.Add(way.To, times = []);
            times.Add(proofs.SinceNs);
        }
        foreach ((AddressPair way, LeastTtlProof least) in _leastTtl)
            _mostTtl[way.To] = Math.Max(_mostTtl.GetValueOrDefault(way.To), least.Proof?.Ttl ?? 0);
    }

    /// <summary>The highest (IV index, SEQ) that a node is known to have received from an element before a time.</summary>
    public ReceptionProof? HighestBefore(MeshAddress node, MeshAddress src, long timeNs) =>
        Of(node, src) is { } proofs && proofs.LastBefore(timeNs) is { } last ? Told(last.TimeNs, last.Reception) : null;

    /// <summary>All that a node is known to have received from an element, or null where that is nothing.</summary>
    internal RisingProofs? Of(MeshAddress node, MeshAddress src) => _proofs.GetValueOrDefault(new AddressPair(src, node));

    /// <summary>The message with the lowest TTL that got from one node to another.</summary>
    public ReceptionProof? LeastTtl(MeshAddress srcNode, MeshAddress node) => _leastTtl.TryGetValue(new AddressPair(srcNode, node), out LeastTtlProof? least) ? least.Proof : null;

    /// <summary>True if some node's messages are known to have got to this one, and only with a TTL above one.</summary>
    /// <param name="node">Primary address of the receiver.</param>
    /// <param name="ttl">What was not enough for another sender.</param>
    public bool ReachedWithMore(MeshAddress node, int ttl) => _mostTtl.GetValueOrDefault(node.Value) > ttl;

    /// <summary>How many sources a node is known to have received something from before a time.</summary>
    public int SourcesBefore(MeshAddress node, long timeNs) => _newSources.TryGetValue(node.Value, out List<long>? times) ? times.Count(time => time < timeNs) : 0;

    private void Open(int row, MeshAddress src, Opcode response)
    {
        if (!_open.TryGetValue((src.Value, response.Value), out List<int>? open))
            _open.Add((src.Value, response.Value), open = []);
        if (open.Count == MostOpen)
            open.RemoveAt(0);
        open.Add(row);
    }

    private void TakeAnswer(int row, in MessageRow answer)
    {
        if (!_open.TryGetValue((answer.Dst.Value, answer.Opcode.Value), out List<int>? open))
            return;
        int found = -1;
        for (int i = open.Count - 1; i >= 0; i--)
        {
            ref MessageRow request = ref _history.Messages[open[i]];
            if (!IsNear(request.TimeNs, answer.TimeNs))
            {
                open.RemoveRange(0, i + 1);
                break;
            }
            if (request.Dst.IsUnicast && request.Dst != answer.Src)
                continue;
            if (found < 0 || (request.IvIndex, request.Seq).CompareTo((_history.Messages[found].IvIndex, _history.Messages[found].Seq)) < 0)
                found = open[i];
        }
        if (found < 0)
            return;
        Add(answer.Src, _history.Messages[found].Src, ToldBy.Message, answer.TimeNs, new Reception(found, row), TtlOf(found));
    }

    /// <summary>The TTL that a request was sent with, which several answer, one after the other.</summary>
    private byte? TtlOf(int request)
    {
        if (_ttlRequest != request)
            (_ttlRequest, _ttl) = (request, TtlSent(_history.FloodSpanOf(request)));
        return _ttl;
    }

    /// <summary>Answers of a press fit by their values too, so that no earlier press comes into question.</summary>
    private void TakePress(Press press)
    {
        int least = press.Messages[0];
        foreach (int message in CollectionsMarshal.AsSpan(press.Messages))
            if ((_history.Messages[message].IvIndex, _history.Messages[message].Seq).CompareTo((_history.Messages[least].IvIndex, _history.Messages[least].Seq)) < 0)
                least = message;
        byte? ttl = TtlSent(_history.FloodSpanOf(least));
        foreach (ref readonly PressAnswer answer in CollectionsMarshal.AsSpan(press.Answers))
            Add(answer.Element, press.Src, ToldBy.Press, answer.TimeNs, new Reception(least, answer.Message), ttl);
    }

    /// <summary>A full block from the destination itself: it has the whole message.</summary>
    private void TakeTransfer(int row, Transfer transfer)
    {
        foreach (BlockAcknowledgment ack in transfer.Acks)
        {
            if (ack.OnBehalf || ack.From != transfer.Dst || (ack.Block & transfer.AllSegments) != transfer.AllSegments)
                continue;
            Add(ack.From, transfer.Src, ToldBy.Transfer, ack.TimeNs, Reception.OfTransfer(row), TtlSent([.. transfer.Sent.Select(sent => sent.Flood)]));
            return;
        }
    }

    private void Add(MeshAddress element, MeshAddress src, ToldBy by, long timeNs, in Reception reception, byte? ttl)
    {
        if (timeNs == CapturedFrame.NoTime)
            return;
        MeshAddress node = _history.Directory.NodeOf(element);
        var way = new AddressPair(src, node);
        if (!_proofs.TryGetValue(way, out RisingProofs? proofs))
        {
            var nodes = new AddressPair(_history.Directory.NodeOf(src), node);
            if (!_leastTtl.TryGetValue(nodes, out LeastTtlProof? least))
                _leastTtl.Add(nodes, least = new LeastTtlProof());
            _proofs.Add(way, proofs = new RisingProofs(_history, least));
        }
        proofs.Add(timeNs, in reception, by);
        if (ttl is { } sent && proofs.LeastTtl.IsSurpassedBy(sent, by))
            proofs.LeastTtl.Take(Told(timeNs, reception) with { Ttl = ttl }, by);
    }

    private ReceptionProof Told(long timeNs, Reception reception)
    {
        if (reception.Transfer is { } row)
        {
            Transfer transfer = _history.Transfers[row];
            return new ReceptionProof(timeNs, transfer.IvIndex, transfer.Seq, TtlSent([.. transfer.Sent.Select(sent => sent.Flood)]), transfer.Message, -1, row);
        }
        ref MessageRow request = ref _history.Messages[reception.Request];
        return new ReceptionProof(timeNs, request.IvIndex, request.Seq, TtlSent(_history.FloodSpanOf(reception.Request)), reception.Request, reception.Answer, -1);
    }

    /// <summary>The TTL of the originator's own copies; null where none was heard.</summary>
    private byte? TtlSent(ReadOnlySpan<int> floods)
    {
        byte? ttl = null;
        foreach (int flood in floods)
            if (_history.OriginatorHeard(flood))
                ttl = Math.Max(ttl ?? 0, _history.Floods[flood].HighestTtl);
        return ttl;
    }

    private static bool IsNear(long before, long after) => before == CapturedFrame.NoTime || after == CapturedFrame.NoTime || after - before <= LongestAnswerNs;
}
