using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.History;

namespace MeshTrace.Reports.Records;

/// <summary><c>finding</c> records: one diagnosed fault or remark a line.</summary>
internal static class FindingRecords
{
    public static void Write(JsonLine line, CaptureHistory history, int row)
    {
        Finding finding = history.Findings[row];
        line.Begin("finding"u8, row);
        line.Word("id"u8, finding.Id);
        line.Word("severity"u8, SeverityWord(finding.Severity));
        line.Word("confidence"u8, ConfidenceWord(finding.Confidence));
        line.Time("time"u8, finding.TimeNs);
        line.Address("node"u8, finding.Node);
        line.Number("press"u8, finding.Press + 1);
        line.Rows("presses"u8, finding.Presses);
        line.Word("says"u8, finding.Says);
        line.StartArray("evidence"u8);
        foreach (Evidence evidence in finding.Evidence)
        {
            line.Json.WriteStartObject();
            line.Word("record"u8, evidence.Record);
            line.Number("index"u8, evidence.Row + 1);
            line.Json.WriteEndObject();
            line.SpillWhenFull();
        }
        line.EndArray();
        line.Word("remedy"u8, finding.Remedy);
        line.End();
    }

    internal static string SeverityWord(Severity severity) => severity switch
    {
        Severity.Fault => "fault",
        Severity.Warning => "warning",
        _ => "remark",
    };

    internal static string ConfidenceWord(Confidence confidence) => confidence switch
    {
        Confidence.Certain => "certain",
        Confidence.Likely => "likely",
        _ => "possible",
    };
}
