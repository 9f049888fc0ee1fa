using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.History;

namespace MeshTrace.Reports.Records;

/// <summary><c>provisioning</c> records: one provisioning link a line.</summary>
internal static class ProvisioningRecords
{
    public static void Write(JsonLine line, CaptureHistory history, int row)
    {
        ProvisioningLink link = history.Provisionings[row];
        line.Begin("provisioning"u8, row);
        if (link.IsPbAdv)
            line.PrefixedHex("linkId"u8, link.LinkId, 8);
        else
            line.Null("linkId"u8);
        line.Uuid("deviceUuid"u8, link.DeviceUuid);
        line.Time("firstTime"u8, link.FirstTimeNs);
        line.Time("lastTime"u8, link.LastTimeNs);
        line.StartArray("pdus"u8);
        foreach (ProvisioningPduRecord pdu in link.Pdus)
        {
            line.Json.WriteStartObject();
            line.Time("time"u8, pdu.TimeNs);
            line.Number("type"u8, pdu.Type);
            line.Word("name"u8, pdu.Name);
            line.Word("from"u8, pdu.FromDevice ? "device"u8 : "provisioner"u8);
            line.Number("transaction"u8, pdu.Transaction);
            ProvisioningFields.Write(line, pdu.Octets);
            line.Json.WriteEndObject();
            line.SpillWhenFull();
        }
        line.EndArray();
        line.Number("retransmissions"u8, link.Retransmissions);
        line.Word("outcome"u8, OutcomeWord(link.Outcome));
        line.Word("reason"u8, link.Reason);
        line.Address("unicast"u8, link.Unicast);
        line.Number("netKeyIndex"u8, link.NetKeyIndex);
        line.Flag("keysLearnt"u8, link.KeysLearnt);
        line.Word("bearer"u8, link.IsPbAdv ? "pb-adv"u8 : link.Connection is null ? "text-log"u8 : "pb-gatt"u8);
        line.Number("connection"u8, link.Connection + 1);
        line.End();
    }

    internal static string OutcomeWord(ProvisioningOutcome outcome) => outcome switch
    {
        ProvisioningOutcome.Complete => "complete",
        ProvisioningOutcome.Failed => "failed",
        ProvisioningOutcome.Closed => "closed",
        _ => "unfinished",
    };
}
