using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Contents;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Provisioning;

namespace MeshTrace.Analysis.Commissioning;

/// <summary>Follows provisioning links on the advertising bearer: link control, transactions and their segments (Mesh Protocol 1.1 §5.3).</summary>
internal sealed class ProvisioningTable(ContentTable contents, Action<ProvisioningLink> onPdu, Func<int, Guid?> deviceOf)
{
    /// <summary>Copies of one bearer PDU on three channels come within this time; later ones are repetitions (Core vol 6 part B §4.4.2.6).</summary>
    private const long LongestEventNs = 10_000_000;

    /// <summary>The same PDU within this time is one PDU written twice; later ones may be another try (threshold ours).</summary>
    private const long LongestEchoNs = 1_000_000_000;

    /// <summary>Protects memory against captures full of invented links.</summary>
    public const int MostLinks = 100_000;

    /// <summary>Provisioning PDUs kept of one connection: a provisioning has some ten, and fragments of certificates.</summary>
    private const int MostPdus = 1000;

    private readonly List<ProvisioningLink> _links = [];
    private readonly List<LinkState> _states = [];
    private readonly Dictionary<uint, int> _byLinkId = [];
    private readonly Dictionary<int, long> _lastHeard = [];
    private readonly Dictionary<int, ProvisioningLink> _byConnection = [];

    public IReadOnlyList<ProvisioningLink> Links => _links;

    /// <summary>Takes one copy of a PB-ADV PDU.</summary>
    public void Take(int content, long timeNs)
    {
        if (!PbAdvPdu.TryRead(contents[content].Octets, out PbAdvPdu pdu, out _) || FindOrAdd(pdu.LinkId, timeNs) is not (>= 0 and var row))
            return;
        ProvisioningLink link = _links[row];
        if (timeNs != CapturedFrame.NoTime)
            link.LastTimeNs = Math.Max(link.LastTimeNs, timeNs);
        if (!pdu.GenericProvisioningPdu.IsEmpty)
            link.Hear(pdu.TransactionNumber, pdu.GenericProvisioningPdu, timeNs);
        bool isRepeated = _lastHeard.TryGetValue(content, out long last);
        _lastHeard[content] = timeNs;
        if (isRepeated)
        {
            if (timeNs == CapturedFrame.NoTime || timeNs - last > LongestEventNs)
                link.Retransmissions++;
            return;
        }
        TakeNew(link, _states[row], timeNs, pdu.TransactionNumber, pdu.GenericProvisioningPdu);
    }

    /// <summary>
    /// Takes a provisioning PDU of a connection, which is the link itself (§5.2.2): no link control, no transactions. An Invite begins another try.
    /// </summary>
    public void Take(ConnectionProvisioningPdu pdu)
    {
        bool known = ProvisioningPdu.TryRead(pdu.Octets, out ProvisioningPdu read, out _);
        if (_byConnection.TryGetValue(pdu.Connection, out ProvisioningLink? link) && IsSameAgain(link, pdu))
        {
            link.LastTimeNs = Math.Max(link.LastTimeNs, pdu.TimeNs);
            link.Retransmissions++;
            return;
        }
        if (link is null || (known && read.Type == ProvisioningPduType.Invite && link.Pdus.Count > 0))
        {
            if (_links.Count >= MostLinks)
                return;
            link = new ProvisioningLink
            {
                LinkId = 0, IsPbAdv = false, Connection = pdu.Connection < 0 ? null : pdu.Connection, DeviceUuid = deviceOf(pdu.Connection), Acknowledged = true,
                FirstTimeNs = pdu.TimeNs, LastTimeNs = pdu.TimeNs,
            };
            _byConnection[pdu.Connection] = link;
            _links.Add(link);
            _states.Add(new LinkState());
        }
        link.LastTimeNs = Math.Max(link.LastTimeNs, pdu.TimeNs);
        if (link.Pdus.Count >= MostPdus)
            return;
        link.Pdus.Add(new ProvisioningPduRecord(pdu.TimeNs, pdu.Octets[0], known ? read.Definition.Name : "unknown", pdu.FromDevice, 0, pdu.Octets));
        ProvisioningVerdict.Decide(link);
        if (known)
            onPdu(link);
    }

    /// <summary>Logs write a PDU more than once, one layer after the other; nobody repeats a PDU on a connection.</summary>
    private static bool IsSameAgain(ProvisioningLink link, ConnectionProvisioningPdu pdu) => link.Pdus.Count > 0 && link.Pdus[^1] is { } last && last.FromDevice == pdu.FromDevice
        && (pdu.TimeNs == CapturedFrame.NoTime || last.TimeNs == CapturedFrame.NoTime || pdu.TimeNs - last.TimeNs < LongestEchoNs) && last.Octets.AsSpan().SequenceEqual(pdu.Octets);

    public void Clear()
    {
        _byConnection.Clear();
        _links.Clear();
        _states.Clear();
        _byLinkId.Clear();
        _lastHeard.Clear();
    }

    private int FindOrAdd(uint linkId, long timeNs)
    {
        if (_byLinkId.TryGetValue(linkId, out int row))
            return row;
        if (_links.Count >= MostLinks)
            return -1;
        _byLinkId.Add(linkId, row = _links.Count);
        _links.Add(new ProvisioningLink { LinkId = linkId, FirstTimeNs = timeNs, LastTimeNs = timeNs });
        _states.Add(new LinkState());
        return row;
    }

    private void TakeNew(ProvisioningLink link, LinkState state, long timeNs, byte number, ReadOnlySpan<byte> pdu)
    {
        if (pdu.IsEmpty)
            return;
        switch (GenericProvisioning.FormatOf(pdu[0]))
        {
            case GenericProvisioningFormat.ProvisioningBearerControl:
                TakeControl(link, pdu);
                break;
            case GenericProvisioningFormat.TransactionStart when TransactionStart.TryRead(pdu, out TransactionStart start, out _):
                Transaction begun = state.Of(number, timeNs);
                begun.Begin(start.SegN, start.TotalLength, start.Fcs, start.Data);
                Finish(link, begun, number);
                break;
            case GenericProvisioningFormat.TransactionContinuation when TransactionContinuation.TryRead(pdu, out TransactionContinuation next, out _):
                Transaction going = state.Of(number, timeNs);
                going.Continue(next.SegmentIndex, next.Data);
                Finish(link, going, number);
                break;
        }
    }

    private static void TakeControl(ProvisioningLink link, ReadOnlySpan<byte> pdu)
    {
        if (LinkOpen.TryRead(pdu, out LinkOpen open, out _))
            link.DeviceUuid = open.DeviceUuid;
        else if (LinkAck.TryRead(pdu, out _, out _))
            link.Acknowledged = true;
        else if (LinkClose.TryRead(pdu, out LinkClose close, out _))
        {
            link.Close = close.Reason;
            ProvisioningVerdict.Decide(link);
        }
    }

    private void Finish(ProvisioningLink link, Transaction transaction, byte number)
    {
        bool before = transaction.FcsWasWrong;
        bool whole = transaction.TryTake(out byte[] octets);
        if (transaction.FcsWasWrong && !before)
        {
            link.WrongFcs++;
            ProvisioningVerdict.Decide(link);
        }
        if (!whole)
            return;
        bool known = ProvisioningPdu.TryRead(octets, out ProvisioningPdu pdu, out _);
        link.Pdus.Add(new ProvisioningPduRecord(transaction.FirstTimeNs, octets[0], known ? pdu.Definition.Name : "unknown",
            number >= PbAdvPdu.FirstTransactionNumberOfDevice, number, octets));
        ProvisioningVerdict.Decide(link);
        if (known)
            onPdu(link);
    }

    /// <summary>Transactions of one link, by number: the number's top bit tells the sender (§5.3.3).</summary>
    private sealed class LinkState
    {
        private readonly Dictionary<byte, Transaction> _transactions = [];

        public Transaction Of(byte number, long timeNs)
        {
            if (!_transactions.TryGetValue(number, out Transaction? transaction))
                _transactions.Add(number, transaction = new Transaction(timeNs));
            return transaction;
        }
    }
}
