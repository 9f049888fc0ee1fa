using MeshTrace.Analysis.History;

namespace MeshTrace.Reports.Words;

/// <summary>The frames counted once, for every sentence about them.</summary>
internal sealed class Tally
{
    private const Carries NotMesh = Carries.Connection | Carries.Other;

    public long Frames { get; private set; }
    public long Mesh { get; private set; }
    public long CrcChecked { get; private set; }
    public long CrcBad { get; private set; }
    public long WithChannel { get; private set; }
    public long Unsupported { get; private set; }

    /// <summary>Frames by channel index 0-39.</summary>
    public long[] Channels { get; } = new long[64];

    public static Tally Of(CaptureHistory history)
    {
        var tally = new Tally { Frames = history.Frames.Count };
        for (int row = 0; row < history.Frames.Count; row++)
        {
            ref readonly FrameRow frame = ref history.Frames[row];
            if ((frame.Carries & ~NotMesh) != 0)
                tally.Mesh++;
            if (frame.Crc != CrcState.Unknown)
                tally.CrcChecked++;
            if (frame.Crc == CrcState.Bad)
                tally.CrcBad++;
            if (frame.Problem == FrameProblem.UnsupportedLinkType)
                tally.Unsupported++;
            if (frame.Channel is { } channel)
            {
                tally.WithChannel++;
                tally.Channels[channel]++;
            }
        }
        return tally;
    }
}
