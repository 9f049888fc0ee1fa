namespace MeshTrace.Analysis.History;

/// <summary>All frames counted: by channel, by what their CRC told, and by what they carry.</summary>
public sealed class FrameCounts
{
    private const Carries NotMesh = Carries.Connection | Carries.Other;

    // By the highest octet of the packed part of a row: channel and result of the CRC check.
    private readonly long[] _marks = new long[1 << 8];

    public long Frames { get; private set; }

    /// <summary>Frames that carry mesh traffic.</summary>
    public long Mesh { get; private set; }

    /// <summary>Frames of a link type that cannot be read.</summary>
    public long Unsupported { get; private set; }

    /// <summary>Frames whose CRC was checked, by the recorder or here.</summary>
    public long CrcChecked => Frames - Sum(crc: CrcState.Unknown);

    /// <summary>Frames with a wrong CRC.</summary>
    public long CrcBad => Sum(crc: CrcState.Bad);

    /// <summary>Frames whose channel is known.</summary>
    public long WithChannel => Frames - OnChannel(FrameRow.NoChannel);

    /// <summary>Frames on a channel.</summary>
    /// <param name="channel">Channel index 0-39.</param>
    public long OnChannel(int channel) => Sum(channel: channel);

    internal static FrameCounts Of(ChunkedTable<FrameRow> frames)
    {
        var counts = new FrameCounts();
        for (int chunk = 0; chunk < frames.Chunks; chunk++)
            counts.Take(frames.Chunk(chunk));
        return counts;
    }

    internal void Take(ReadOnlySpan<FrameRow> rows)
    {
        long[] marks = _marks;
        long mesh = 0, unsupported = 0;
        foreach (ref readonly FrameRow frame in rows)
        {
            marks[(byte)(frame.Packed >> 56)]++;
            mesh += (frame.CarriesField & ~NotMesh) != 0 ? 1 : 0;
            unsupported += frame.ProblemField == FrameProblem.UnsupportedLinkType ? 1 : 0;
        }
        Frames += rows.Length;
        Mesh += mesh;
        Unsupported += unsupported;
    }

    /// <summary>Adds what was counted over other frames.</summary>
    internal void Join(FrameCounts other)
    {
        for (int mark = 0; mark < _marks.Length; mark++)
            _marks[mark] += other._marks[mark];
        Frames += other.Frames;
        Mesh += other.Mesh;
        Unsupported += other.Unsupported;
    }

    private long Sum(int? channel = null, CrcState? crc = null)
    {
        long sum = 0;
        for (int mark = 0; mark < _marks.Length; mark++)
            if ((channel is null || (mark & 63) == channel) && (crc is null || (CrcState)(mark >> 6) == crc))
                sum += _marks[mark];
        return sum;
    }
}
