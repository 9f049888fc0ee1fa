namespace MeshTrace.Protocol.Link;

/// <summary>One receiver: a capture interface of a file, or a live one.</summary>
/// <param name="Index">Number over all files, from 0.</param>
/// <param name="File">Name of the file as the user gave it, or "-" for standard input.</param>
/// <param name="Interface">Name the file gives the interface, or null.</param>
/// <param name="LinkType">Its link type.</param>
public sealed record ReceiverDescription(int Index, string File, string? Interface, LinkType LinkType)
{
    /// <summary>Frames the recorder itself reports as dropped, or null where it reports nothing.</summary>
    public long? ReportedDropped { get; set; }

    /// <summary>n where the file counts time in units of 10^-n seconds (0 to 9); 9 where it counts otherwise.</summary>
    public int TimeResolutionExponent { get; init; } = 9;

    /// <summary>True if the file tells the direction of ACL data beside the octets (<see cref="CapturedFrame.Hci"/>).</summary>
    public bool TellsDirection { get; init; }

    /// <summary>How its clock was aligned with those of other receivers; null where it is the only one, or is recording now.</summary>
    public ReceiverClock? Clock { get; init; }
}

/// <summary>Where a source found its input damaged.</summary>
/// <param name="File">The file's name.</param>
/// <param name="Offset">Octet offset of the damage in the (unpacked) file.</param>
/// <param name="Says">What was expected and found there, one sentence without final stop.</param>
public sealed record CaptureDamage(string File, long Offset, string Says);

/// <summary>Gives frames one after the other: a capture file, several files, a live receiver.</summary>
public interface IFrameSource : IDisposable
{
    /// <summary>Receivers met so far; grows while reading.</summary>
    IReadOnlyList<ReceiverDescription> Receivers { get; }

    /// <summary>Set once reading has stopped at damage; everything before it has been given.</summary>
    CaptureDamage? Damage { get; }

    /// <summary>All damage found so far: several files may each have theirs.</summary>
    IReadOnlyList<CaptureDamage> AllDamage => Damage is { } damage ? [damage] : [];

    /// <summary>Octets read so far, for progress.</summary>
    long Position { get; }

    /// <summary>Octets there are in all, or null where that is not known (standard input, packed files).</summary>
    long? Length { get; }

    /// <summary>The next frame, or false at the end or at damage.</summary>
    bool TryReadNext(out CapturedFrame frame);
}
