using MeshTrace.Analysis;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Captures.Files;
using MeshTrace.Captures.Live;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Live;

/// <summary>
/// The part of a live run that is remembered. Its history is made from its frames each time, with clocks aligned, in the very way in which captures are analysed: what
/// is told at the end is what the same frames tell when they are read from files. What leaves the window leaves its keys behind.
/// </summary>
/// <param name="settings">Keys and description.</param>
/// <param name="names">Names of the inputs.</param>
/// <param name="align">False where all frames were stamped by one clock.</param>
/// <param name="limits">How much is remembered.</param>
internal sealed class LiveWindow(AnalysisSettings settings, IEnumerable<string> names, bool align, LiveLimits limits)
{
    private readonly List<FrameLog> _logs = [.. names.Select(name => new FrameLog(name))];
    private AnalysisSettings _settings = settings;

    public IReadOnlyList<FrameLog> Logs => _logs;

    /// <summary>Frames remembered.</summary>
    public int Count => _logs.Sum(log => log.Count);

    /// <summary>Frames that have left the window.</summary>
    public long Dropped => _logs.Sum(log => log.Dropped);

    /// <summary>True if no more frames may come before <see cref="DropOld"/>.</summary>
    public bool IsFull => Count >= limits.FramesToDropAt;

    /// <summary>True once frames had to go because of their number, so that the window is shorter than asked for.</summary>
    public bool IsShortened { get; private set; }

    /// <summary>Names given with an offset that fit no receiver, as of the last history.</summary>
    public IReadOnlyList<string> UnknownReceivers { get; private set; } = [];

    /// <summary>The history of what is remembered now. It shares nothing with earlier ones, so that it may pass to another thread.</summary>
    public CaptureHistory MakeHistory()
    {
        var analysis = new CaptureAnalysis(_settings);
        var unknown = new List<string>();
        using IFrameSource source = align ? CaptureFile.OpenAligned(_logs, _settings.ReceiverOffsets, unknown) : CaptureFile.OpenAsTheyAre(_logs);
        analysis.Read(source);
        UnknownReceivers = unknown;
        return analysis.Complete();
    }

    /// <summary>Lets go what is too old or too much, once the history of it has been made.</summary>
    /// <param name="made">The last history: the keys it knows are kept.</param>
    public void DropOld(CaptureHistory made)
    {
        long before = Dropped;
        foreach (FrameLog log in _logs)
        {
            if (log.LengthNs > limits.LengthToDropAtNs)
                log.DropOlderThan(limits.LengthNs);
        }
        if (IsFull)
        {
            IsShortened = true;
            double share = 1 - ((double)limits.MostFrames / Count);
            foreach (FrameLog log in _logs)
                log.Drop((int)Math.Ceiling(log.Count * share));
        }
        if (Dropped > before)
            _settings = _settings with { CarriedKeys = CarriedKeys.Of(made.Keys) };
    }
}
