using MeshTrace.Analysis;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Excerpts;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Redaction;
using MeshTrace.Captures.Files;
using MeshTrace.Captures.Udp;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Commands;

/// <summary>
/// Writes an excerpt, reads it back and compares its verdicts with those of the whole capture; where they differ, it is taken wider. The capture itself is
/// never held in memory: it is read again for each try.
/// </summary>
internal sealed class ExcerptMaking(
    CaptureHistory history, IReadOnlyList<string> captures, AnalysisSettings settings, UdpEncapsulation? udp, CaptureRedaction? redaction, CancellationToken stop)
{
    private const int FramesBetweenLooks = 4_096;

    private byte[] _room = new byte[512];

    /// <summary>What was taken.</summary>
    public ExcerptSelection Selection { get; private set; } = null!;

    /// <summary>How often it had to be taken wider.</summary>
    public int Widened { get; private set; }

    /// <summary>Presses of which the excerpt tells otherwise even so.</summary>
    public IReadOnlyList<int> Differing { get; private set; } = [];

    /// <summary>Frames that could not be written.</summary>
    public long Unwritable { get; private set; }

    /// <summary>Frames that a redaction left out.</summary>
    public long LeftOut => redaction?.LeftOut ?? 0;

    /// <summary>Writes the excerpt.</summary>
    /// <param name="request">What it is to be about.</param>
    /// <param name="output">Empty; can be read as well.</param>
    /// <exception cref="UserErrorException">The captures have changed since they were analysed.</exception>
    public void Write(ExcerptRequest request, FileStream output)
    {
        redaction?.LookAtConnections(() => CaptureOpening.Open(captures, settings, udp, stop: stop), stop);
        for (int number = 0; ; number++)
        {
            ExcerptContext context = ExcerptContext.OfTry(number);
            Selection = ExcerptSelector.Select(history, request, context);
            Widened = number;
            output.SetLength(0);
            Copy(output);
            output.Flush();
            Differing = Selection.Presses.Count == 0 ? [] : ExcerptVerdicts.Differing(history, Selection.Presses, ReadBack(output.Name), redaction is null ? null : redaction.AddressOf);
            if (Differing.Count == 0 || context.Whole)
                return;
        }
    }

    private void Copy(FileStream output)
    {
        try
        {
            using IFrameSource source = CaptureOpening.Open(captures, settings, udp, stop: stop);
            redaction?.StartOver();
            using var writer = new ExcerptWriter(output, redaction is null ? history.Receivers : CaptureRedaction.Redact(history.Receivers), "meshtrace " + ProgramVersion.Text);
            for (int frame = 0; frame <= Selection.LastFrame; frame++)
            {
                if (frame % FramesBetweenLooks == 0)
                    stop.ThrowIfCancellationRequested();
                if (!source.TryReadNext(out CapturedFrame captured) || captured.FileOffset != history.Frames[frame].FileOffset || captured.Receiver != history.Frames[frame].Receiver)
                    throw new UserErrorException(ExitCode.Unreadable, "the capture has changed while it was read", "Wait until it is recorded, then take the excerpt again.");
                if (Selection[frame] != ExcerptReason.None)
                    Write(writer, frame, in captured);
            }
            Unwritable = writer.Unwritable;
        }
        catch (CaptureFormatException problem)
        {
            throw new UserErrorException(ExitCode.Unreadable, SafeText.Strip(problem.Message, 600), remedy: "", problem);
        }
    }

    private void Write(ExcerptWriter writer, int row, in CapturedFrame frame)
    {
        if (redaction is null || !ExcerptWriter.CanWrite(history.Receivers[frame.Receiver]))
        {
            writer.Write(in frame);     // a line of a text log is only counted
            return;
        }
        if (_room.Length < frame.Octets.Length)
            _room = new byte[frame.Octets.Length * 2];
        if (redaction.TryRedact(row, in frame, _room))
            writer.Write(frame with { Octets = _room.AsSpan(0, frame.Octets.Length) });
    }

    private CaptureHistory ReadBack(string file)
    {
        var analysis = new CaptureAnalysis(redaction?.Settings() ?? settings with { Notes = [] });
        using (IFrameSource source = CaptureFile.Open(new FileStream(file, FileMode.Open, FileAccess.Read, FileShare.ReadWrite | FileShare.Delete), file))
            analysis.Read(source, stop: stop);
        stop.ThrowIfCancellationRequested();
        return analysis.Complete();
    }
}
