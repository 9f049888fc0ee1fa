using System.Globalization;
using MeshTrace.Analysis;
using MeshTrace.Analysis.Redaction;

namespace MeshTrace.Commands;

/// <summary>What a redaction could not carry over, in words.</summary>
internal static class RedactionWords
{
    /// <summary>Says so on standard error.</summary>
    public static void Tell(CaptureRedaction redaction, AnalysisSettings settings, TextWriter error)
    {
        if (redaction.LeftOut > 0)
            error.WriteLine(string.Create(CultureInfo.InvariantCulture, $"meshtrace: redacted: {redaction.LeftOut} frames are left out: what a host's log tells beside advertising and connections, and lines of text logs."));
        if (redaction.Unopened > 0)
            error.WriteLine(string.Create(CultureInfo.InvariantCulture, $"meshtrace: redacted: {redaction.Unopened} frames hold a Network PDU that no key opened; its octets are replaced by others, and only its place, its time and which of them are alike remain."));
        if (settings.Notes.Count > 0)
            error.WriteLine("meshtrace: redacted: notes from the field are left out, they are words of people.");
    }
}
