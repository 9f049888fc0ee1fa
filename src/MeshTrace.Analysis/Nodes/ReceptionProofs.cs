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
    private readonly Dictionary<(ushort Node, ushort Src), RisingProofs> _proofs = [];
    private readonly Dictionary<(ushort Node, ushort SrcNode), ReceptionProof> _leastTtl = [];
    private readonly Dictionary<ushort, int> _mostTtl = [];
    private readonly Dictionary<ushort, List<long>> _newSources = [];
    private readonly Dictionary<(ushort Src, uint Answer), List<int>> _open = [];

    internal ReceptionProofs(CaptureHistory history)
    {
        _history = history;
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
        for (int row = 0; row < history.Transfers.Count; row++)
            TakeTransfer(row, history.Transfers[row]);
        foreach (Press press in history.Presses)
            TakePress(press);
        foreach (RisingProofs proofs in _proofs.Values)
            proofs.Finish();
        foreach (((ushort node, _), ReceptionProof least) in _leastTtl)
            _mostTtl[node] = Math.Max(_mostTtl.GetValueOrDefault(node), least.Ttl ?? 0);
    }

    /// <summary>The highest (IV index, SEQ) that a node is known to have received from an element before a time.</summary>
    public ReceptionProof? HighestBefore(MeshAddress node, MeshAddress src, long timeNs) =>
        _proofs.TryGetValue((node.Value, src.Value), out RisingProofs? proofs) ? proofs.LastBefore(timeNs) : null;

    /// <summary>The message with the lowest TTL that got from one node to another.</summary>
    public ReceptionProof? LeastTtl(MeshAddress srcNode, MeshAddress node) => _leastTtl.TryGetValue((node.Value, srcNode.Value), out ReceptionProof proof) ? proof : null;

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
        ref MessageRow received = ref _history.Messages[found];
        Add(answer.Src, received.Src, new ReceptionProof(answer.TimeNs, received.IvIndex, received.Seq, TtlSent(_history.FloodSpanOf(found)), found, row, -1));
    }

    /// <summary>Answers of a press fit by their values too, so that no earlier press comes into question.</summary>
    private void TakePress(Press press)
    {
        int least = press.Messages[0];
        foreach (int message in press.Messages)
            if ((_history.Messages[message].IvIndex, _history.Messages[message].Seq).CompareTo((_history.Messages[least].IvIndex, _history.Messages[least].Seq)) < 0)
                least = message;
        foreach (PressAnswer answer in press.Answers)
            Add(answer.Element, press.Src, new ReceptionProof(
                answer.TimeNs, _history.Messages[least].IvIndex, _history.Messages[least].Seq, TtlSent(_history.FloodSpanOf(least)), least, answer.Message, -1));
    }

    /// <summary>A full block from the destination itself: it has the whole message.</summary>
    private void TakeTransfer(int row, Transfer transfer)
    {
        foreach (BlockAcknowledgment ack in transfer.Acks)
        {
            if (ack.OnBehalf || ack.From != transfer.Dst || (ack.Block & transfer.AllSegments) != transfer.AllSegments)
                continue;
            Add(ack.From, transfer.Src, new ReceptionProof(ack.TimeNs, transfer.IvIndex, transfer.Seq, TtlSent([.. transfer.Sent.Select(sent => sent.Flood)]), transfer.Message, -1, row));
            return;
        }
    }

    private void Add(MeshAddress element, MeshAddress src, ReceptionProof proof)
    {
        if (proof.TimeNs == CapturedFrame.NoTime)
            return;
        MeshAddress node = _history.Directory.NodeOf(element), srcNode = _history.Directory.NodeOf(src);
        if (!_proofs.TryGetValue((node.Value, src.Value), out RisingProofs? proofs))
        {
            _proofs.Add((node.Value, src.Value), proofs = new RisingProofs());
            if (!_newSources.TryGetValue(node.Value, out List<long>? times))
                _newSources.Add(node.Value, times = []);
            times.Add(proof.TimeNs);
        }
        proofs.Add(proof);
        if (proof.Ttl is { } ttl && (!_leastTtl.TryGetValue((node.Value, srcNode.Value), out ReceptionProof least) || ttl < least.Ttl))
            _leastTtl[(node.Value, srcNode.Value)] = proof;
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
