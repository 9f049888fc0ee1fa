using System.Globalization;
using MeshTrace.Captures.Live;

namespace MeshTrace.Commands;

/// <summary>What is said, at the end, of the file that everything received was saved in.</summary>
internal static class KeptWords
{
    public static void Tell(KeptCapture? kept, Surroundings surroundings)
    {
        if (kept is null)
            return;
        if (kept.Problem is null)
            surroundings.Error.WriteLine(string.Create(CultureInfo.InvariantCulture, $"meshtrace: {kept.Kept:N0} {(kept.IsText ? "octets of log lines" : kept.Kept == 1 ? "frame" : "frames")} saved in {InputFile.Shown(kept.Name)}."));
        if (kept.NotKept > 0)
            surroundings.Error.WriteLine(string.Create(CultureInfo.InvariantCulture, $"meshtrace: {kept.NotKept:N0} frames were not saved: pcapng has no form for lines of a text log beside other receivers, nor for frames without a time of a second receiver."));
    }
}
