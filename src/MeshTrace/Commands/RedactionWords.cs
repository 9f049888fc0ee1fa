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
            error.WriteLine(string.Create(CultureInfo.InvariantCulture, $"meshtrace: redacted: in {redaction.Unopened} frames a Network PDU that no key opened is left as a place filled with other octets."));
        if (settings.Notes.Count > 0)
            error.WriteLine("meshtrace: redacted: notes from the field are left out, they are words of people.");
    }
}
