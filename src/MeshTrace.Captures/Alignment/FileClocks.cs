using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Alignment;

/// <summary>The clocks of one file's receivers, by their number within the file.</summary>
internal sealed class FileClocks
{
    private readonly List<(ReceiverClock Clock, ClockLine? Line)> _clocks = [];

    /// <summary>Most that two of the lines differ, or 0 where the frames stand in the order they were heard in, not in that of their times.</summary>
    public long DisorderNs { get; set; }

    public void Set(int receiver, ReceiverClock clock, ClockLine? line)
    {
        while (_clocks.Count <= receiver)
            _clocks.Add((new ReceiverClock(ClockBasis.NotCompared), null));
        _clocks[receiver] = (clock, line);
    }

    public ReceiverClock? ClockOf(int receiver) => receiver < _clocks.Count ? _clocks[receiver].Clock : null;

    public long ToReference(int receiver, long timeNs) => receiver < _clocks.Count && _clocks[receiver].Line is { } line && timeNs is >= CapturedFrame.EarliestNs and <= CapturedFrame.LatestNs
        ? Math.Clamp(line.ToReference(timeNs), CapturedFrame.EarliestNs, CapturedFrame.LatestNs) : timeNs;
}
