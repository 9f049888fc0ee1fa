using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;

namespace MeshTrace.Reports.Records;

/// <summary><c>press</c> records: one user action a line.</summary>
internal static class PressRecords
{
    public static void Write(JsonLine line, CaptureHistory history, int row)
    {
        Press press = history.Presses[row];
        line.Begin("press"u8, row);
        line.Time("time"u8, press.TimeNs);
        line.Address("src"u8, press.Src);
        line.Address("dst"u8, press.Dst);
        line.Number("tid"u8, press.Tid);
        line.Opcode("opcode"u8, press.Opcode);
        line.Word("name"u8, press.Name);
        line.Word("asks"u8, press.Asks);
        line.Flag("acknowledged"u8, press.Acknowledged);
        line.Rows("messages"u8, press.Messages);
        line.Number("lastTtl"u8, press.LastTtl);
        line.Number("hopsSeen"u8, press.HopsSeen);
        line.Addresses("expected"u8, press.Expected);
        line.Addresses("answered"u8, press.Answers.Select(answer => answer.Element).Distinct());
        line.Word("outcome"u8, OutcomeWord(press.Outcome));
        line.Number("latencyMs"u8, press.LatencyMs);
        line.Rows("findings"u8, press.Findings);
        line.End();
    }

    internal static string OutcomeWord(PressOutcome outcome) => outcome switch
    {
        PressOutcome.All => "all",
        PressOutcome.Some => "some",
        PressOutcome.None => "none",
        _ => "unknown",
    };
}
