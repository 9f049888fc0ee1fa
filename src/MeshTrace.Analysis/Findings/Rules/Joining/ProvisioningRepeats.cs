using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Bearer;

namespace MeshTrace.Analysis.Findings.Rules.Joining;

/// <summary>One provisioning transaction is sent again and again: its acknowledgment does not come, or comes too late (Mesh Protocol 1.1 §5.3.3).</summary>
internal sealed class ProvisioningRepeats : IFindingRule
{
    /// <summary>The first sending and three repetitions (ours).</summary>
    private const int EnoughSendings = 4;

    public string Id => "provisioning-repeats";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var told = new Dictionary<(Guid? Uuid, uint LinkId), List<(int Row, ProvisioningTransaction Transaction)>>();
        for (int row = 0; row < history.Provisionings.Count; row++)
        {
            ProvisioningLink link = history.Provisionings[row];
            foreach (ProvisioningTransaction transaction in link.Transactions)
            {
                if (transaction.Sendings < EnoughSendings)
                    continue;
                var key = (link.DeviceUuid, link.DeviceUuid is null ? link.LinkId : 0);
                if (!told.TryGetValue(key, out List<(int Row, ProvisioningTransaction Transaction)>? some))
                    told.Add(key, some = []);
                some.Add((row, transaction));
            }
        }
        foreach (List<(int Row, ProvisioningTransaction Transaction)> some in told.Values)
        {
            (int row, ProvisioningTransaction worst) = some.MaxBy(one => one.Transaction.Sendings);
            ProvisioningLink link = history.Provisionings[row];
            string pdu = link.Pdus.Find(one => one.Transaction == worst.Number)?.Name ?? "one PDU";
            string who = worst.Number >= PbAdvPdu.FirstTransactionNumberOfDevice ? "The device" : "The provisioner";
            string acknowledged = worst.Acknowledgments == 0 ? "no acknowledgment of it was heard"
                : $"its acknowledgment was heard {Wording.Times(worst.Acknowledgments)}, and does not get back or comes too late";
            string others = some.Count > 1 ? $"; {some.Count - 1} more of its transactions went like that" : "";
            findings.Add(Id, Confidence.Likely, worst.FirstTimeNs, Device.NodeOf(history, link), null,
                $"{who} sent {pdu} {worst.Sendings} times within {Wording.Span(Wording.Seconds(worst.FirstTimeNs, worst.LastTimeNs))} in the provisioning of {Device.Called(history, link)}: {acknowledged}{others}.",
                [.. some.Select(one => one.Row).Distinct().Select(one => new Evidence("provisioning", one))]);
        }
    }
}
