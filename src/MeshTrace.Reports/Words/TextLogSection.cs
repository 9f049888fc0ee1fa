using MeshTrace.Analysis.History;
using MeshTrace.Analysis.TextLogs;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Reports.Words;

/// <summary>Text logs: what their lines were taken for, with line numbers, and what could not be used.</summary>
internal static class TextLogSection
{
    private const int MostLines = 8, MostMessages = 10;

    private static readonly (TextLineKind Kind, string One, string Many)[] Rows =
    [
        (TextLineKind.ProxyPdu, "Proxy PDU", "Proxy PDUs"),
        (TextLineKind.NetworkPdu, "Network PDU", "Network PDUs"),
        (TextLineKind.ProvisioningPdu, "provisioning PDU", "provisioning PDUs"),
        (TextLineKind.Beacon, "beacon", "beacons"),
        (TextLineKind.AccessPayload, "access payload", "access payloads"),
        (TextLineKind.UpperTransportPdu, "upper transport PDU, which nothing opens without its addresses", "upper transport PDUs, which nothing opens without their addresses"),
        (TextLineKind.Key, "line about keys, which was not looked at", "lines about keys, which were not looked at"),
        (TextLineKind.Unclear, "line whose octets fit nothing", "lines whose octets fit nothing"),
        (TextLineKind.NoOctets, "line without octets", "lines without octets"),
    ];

    public static void Write(Paper paper, Account account)
    {
        CaptureHistory history = account.History;
        if (history.TextLines.Count == 0)
            return;
        paper.Heading($"Text log: {Phrases.Count(history.TextLines.Count, "line")}");
        foreach ((TextLineKind kind, string one, string many) in Rows)
        {
            List<TextLineRecord> lines = [.. history.TextLines.Where(line => line.Kind == kind)];
            if (lines.Count > 0)
                paper.Paragraph($"{Phrases.Count(lines.Count, one, many)} ({Where(lines)}){Why(lines)}.", tone: kind is TextLineKind.NoOctets ? Tone.Quiet : Tone.Plain);
        }
        int untimed = history.TextLines.Count(line => history.Frames[line.Frame].TimeNs == CapturedFrame.NoTime);
        if (untimed > 0)
            paper.Paragraph($"{Phrases.Count(untimed, "line")} {(untimed == 1 ? "tells" : "tell")} no time.", tone: Tone.Quiet);
        foreach (TextLineRecord line in history.TextLines.Where(line => line.PayloadLength > 0).Take(MostMessages))
            paper.Paragraph($"Line {Phrases.Number(line.Line)}: {AccessReader.Read(history.PayloadOf(line)).Definition?.Name}, of which the log tells no addresses.");
    }

    private static string Where(List<TextLineRecord> lines) =>
        (lines.Count == 1 ? "line " : "lines ") + Phrases.List([.. lines.Select(line => Phrases.Number(line.Line))], MostLines);

    private static string Why(List<TextLineRecord> lines)
    {
        int opened = lines.Count(line => line.Reason == TextLineReason.NetMic), formed = lines.Count(line => line.Reason == TextLineReason.Form);
        var parts = new List<string>();
        if (opened > 0)
            parts.Add($"{Phrases.Number(opened)} by a key that opens {(opened == 1 ? "it" : "them")}");
        if (formed > 0)
            parts.Add($"{Phrases.Number(formed)} by the form of the octets alone");
        return parts.Count == 0 ? "" : ": " + Phrases.List(parts);
    }
}
