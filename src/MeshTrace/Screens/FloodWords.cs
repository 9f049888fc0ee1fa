using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol.LowerTransport;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Words;

namespace MeshTrace.Screens;

/// <summary>What a flood carries, in a phrase.</summary>
internal static class FloodWords
{
    public static string Carries(Account account, int row)
    {
        ref FloodRow flood = ref account.History.Floods[row];
        LowerTransportKind kind = LowerTransport.KindOf(flood.Ctl, flood.TransportPdu);
        if (kind == LowerTransportKind.SegmentAcknowledgment)
            return Acknowledges(flood.TransportPdu);
        string segment = kind switch
        {
            LowerTransportKind.SegmentedAccess when SegmentedAccess.TryRead(flood.TransportPdu, out SegmentedAccess access, out _) => $"segment {access.SegO} of 0-{access.SegN}",
            LowerTransportKind.SegmentedControl when SegmentedControl.TryRead(flood.TransportPdu, out SegmentedControl control, out _) => $"segment {control.SegO} of 0-{control.SegN}",
            _ => "",
        };
        if (flood.Message is not { } message)
            return segment.Length > 0 ? segment : "message";
        string name = NameOf(account, message);
        return segment.Length > 0 ? $"{segment}, {name}" : name;
    }

    /// <summary>The standard's name of a message, or what keeps it from having one.</summary>
    public static string NameOf(Account account, int message)
    {
        ref MessageRow row = ref account.History.Messages[message];
        if (!row.Decrypted)
            return row.Key == MessageKey.Device ? "not opened (device key)" : "not opened (application key)";
        return MessageNames.Find(row.IsControl, row.Opcode, account.Vendor) ?? $"opcode {row.Opcode}";
    }

    /// <summary>"2 hops" or "direct"; with a question mark where the original was not heard.</summary>
    public static string Reach(CaptureHistory history, int row)
    {
        ref FloodRow flood = ref history.Floods[row];
        int hops = flood.HighestTtl - flood.LowestTtl;
        return (hops == 0 ? "direct" : Phrases.Count(hops, "hop")) + (history.OriginatorHeard(row) ? "" : "?");
    }

    private static string Acknowledges(ReadOnlySpan<byte> pdu) =>
        !SegmentAcknowledgment.TryRead(pdu, out SegmentAcknowledgment ack, out _) ? "acknowledgment, malformed"
        : ack.BlockAck == 0 ? "acknowledgment: refused" : $"acknowledgment of {Phrases.Runs(ack.BlockAck)}";
}
