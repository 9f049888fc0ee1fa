using MeshTrace.Analysis;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Redaction;
using MeshTrace.Captures.Files;
using MeshTrace.Captures.Udp;
using MeshTrace.Protocol.Link;
using MeshTrace.Reports.Words;

namespace MeshTrace.Commands;

/// <summary>Reads captures through the analysis, and tells on standard error what the user must know of it.</summary>
internal sealed class AnalysisRun(Surroundings surroundings, CancellationToken stop, UdpEncapsulation? udp = null)
{
    /// <summary>Reads all captures to their end, or to where they are damaged.</summary>
    /// <exception cref="UserErrorException">One cannot be opened or is no capture.</exception>
    /// <exception cref="OperationCanceledException">Stopped.</exception>
    public CaptureHistory Read(IReadOnlyList<string> captures, AnalysisSettings settings)
    {
        var analysis = new CaptureAnalysis(settings);
        try
        {
            using var progress = new ProgressLine(surroundings);
            var unknown = new List<string>();
            using IFrameSource source = CaptureOpening.Open(captures, settings, udp, unknown, (position, length) => progress.Tell("comparing clocks", position, length, "octets"), stop);
            TellUnknown(unknown);
            analysis.Read(source, (position, length) => progress.Tell("reading", position, length, "octets"), stop);
            stop.ThrowIfCancellationRequested();
            progress.Dispose();
            UdpWords.Tell(source, surroundings.Error);
            return analysis.Complete();
        }
        catch (CaptureFormatException problem)
        {
            throw new UserErrorException(ExitCode.Unreadable, SafeText.Strip(problem.Message, 600), remedy: "", problem);
        }
    }

    /// <summary>Reads the captures again with pseudonyms in them: an account that never saw a real key, name or address.</summary>
    /// <exception cref="UserErrorException">One cannot be opened any more.</exception>
    /// <exception cref="OperationCanceledException">Stopped.</exception>
    public CaptureHistory ReadRedacted(IReadOnlyList<string> captures, AnalysisSettings settings, CaptureRedaction redaction)
    {
        var analysis = new CaptureAnalysis(redaction.Settings());
        try
        {
            using var progress = new ProgressLine(surroundings);
            redaction.LookAtConnections(() => CaptureOpening.Open(captures, settings, udp, stop: stop), stop);
            using IFrameSource real = CaptureOpening.Open(captures, settings, udp, stop: stop);
            using RedactingSource source = redaction.Read(real);
            analysis.Read(source, (position, length) => progress.Tell("reading again", position, length, "octets"), stop);
            stop.ThrowIfCancellationRequested();
            progress.Dispose();
            RedactionWords.Tell(redaction, settings, surroundings.Error);
            return analysis.Complete();
        }
        catch (CaptureFormatException problem)
        {
            throw new UserErrorException(ExitCode.Unreadable, SafeText.Strip(problem.Message, 600), remedy: "", problem);
        }
    }

    /// <summary>Tells of offsets given for receivers that there are none of.</summary>
    public void TellUnknown(IReadOnlyList<string> names)
    {
        foreach (string name in names)
            surroundings.Error.WriteLine($"meshtrace: --receiver-offset was not used for {InputFile.Shown(name)}: no receiver has this name, or the input cannot be read twice or is carried in UDP.");
    }

    /// <summary>Tells of damage and of nothing decoded, and gives the exit code that fits.</summary>
    public int Conclude(CaptureHistory history)
    {
        TellDamages(history);
        TellClocks(history);
        if (NothingDecoded(history) is { } why)
        {
            surroundings.Error.WriteLine("meshtrace: " + why);
            return ExitCode.NothingDecoded;
        }
        return history.Damages.Count > 0 ? ExitCode.Damaged : ExitCode.Fine;
    }

    /// <summary>Tells where files could not be read further.</summary>
    public void TellDamages(CaptureHistory history)
    {
        foreach (CaptureDamage damage in history.Damages)
        {
            surroundings.Error.WriteLine($"meshtrace: {InputFile.Shown(damage.File)} is damaged at octet {damage.Offset}: {SafeText.Strip(damage.Says.TrimEnd('.'), 300)}.");
            surroundings.Error.WriteLine("What to do: what stands before the damage was analysed; record or copy the file again if you need the rest.");
        }
    }

    /// <summary>Tells of receivers that heard what others heard, but whose clocks could not be aligned.</summary>
    private void TellClocks(CaptureHistory history)
    {
        foreach (ReceiverDescription receiver in history.Receivers)
        {
            if (receiver.Clock is not { Basis: ClockBasis.Refused, Says: { } says })
                continue;
            string name = receiver.Interface is { } own ? $" ({SafeText.Strip(own, 60)})" : "";
            surroundings.Error.WriteLine($"meshtrace: the clock of receiver {receiver.Index + 1}{name} in {InputFile.Shown(receiver.File)} was left as it is: {says}.");
            surroundings.Error.WriteLine("What to do: if you know how far it is ahead, give it with --receiver-offset.");
        }
    }

    /// <summary>Why there is nothing to tell of presses, or null where something was decoded.</summary>
    public static string? NothingDecoded(CaptureHistory history)
    {
        if (history.OpenedNetworkPdus > 0)
            return null;
        if (history.DistinctNetworkPdus > 0)
            return Verdict.NothingOpened(history);
        return history.Beacons.Count > 0 || history.Provisionings.Count > 0 ? null : Verdict.NoMesh(history);
    }
}
