using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Transfers;

namespace MeshTrace.Reports.Records;

/// <summary><c>transfer</c> records: one segmented message a line, complete or not.</summary>
internal static class TransferRecords
{
    public static void Write(JsonLine line, CaptureHistory history, int row)
    {
        Transfer transfer = history.Transfers[row];
        line.Begin("transfer"u8, row);
        line.Word("kind"u8, transfer.IsControl ? "control"u8 : "access"u8);
        line.Address("src"u8, transfer.Src);
        line.Address("dst"u8, transfer.Dst);
        line.Number("seq"u8, transfer.Seq);
        line.Number("seqZero"u8, transfer.SeqZero);
        line.Number("segments"u8, transfer.Segments);
        line.Time("firstTime"u8, transfer.FirstTimeNs);
        line.Time("lastTime"u8, transfer.LastTimeNs);

        line.StartArray("sent"u8);
        foreach (SegmentSent segment in transfer.Sent)
        {
            line.Json.WriteStartObject();
            line.Number("segO"u8, segment.SegO);
            line.Number("flood"u8, segment.Flood + 1);
            line.Time("time"u8, segment.TimeNs);
            line.Json.WriteEndObject();
            line.SpillWhenFull();
        }
        line.EndArray();

        line.StartArray("acks"u8);
        foreach (BlockAcknowledgment ack in transfer.Acks)
        {
            line.Json.WriteStartObject();
            line.Number("flood"u8, ack.Flood + 1);
            line.Time("time"u8, ack.TimeNs);
            line.Address("from"u8, ack.From);
            line.Flag("onBehalf"u8, ack.OnBehalf);
            line.PrefixedHex("block"u8, ack.Block, 8);
            line.Json.WriteEndObject();
            line.SpillWhenFull();
        }
        line.EndArray();

        WriteBits(line, "heard"u8, transfer.Heard & transfer.AllSegments);
        WriteBits(line, "missing"u8, ~transfer.Heard & transfer.AllSegments);
        line.Word("outcome"u8, OutcomeWord(transfer.Outcome));
        line.Number("durationMs"u8, JsonForms.Milliseconds(transfer.FirstTimeNs, transfer.LastTimeNs));
        line.Number("message"u8, transfer.Message < 0 ? null : transfer.Message + 1);
        line.End();
    }

    private static void WriteBits(JsonLine line, ReadOnlySpan<byte> name, uint bits)
    {
        line.StartArray(name);
        for (int segO = 0; segO < 32; segO++)
        {
            if (((bits >> segO) & 1) != 0)
                line.Json.WriteNumberValue(segO);
        }
        line.EndArray();
    }

    internal static string OutcomeWord(TransferOutcome outcome) => outcome switch
    {
        TransferOutcome.Acknowledged => "acknowledged",
        TransferOutcome.AllHeard => "all-heard",
        TransferOutcome.Cancelled => "cancelled",
        _ => "incomplete",
    };
}
