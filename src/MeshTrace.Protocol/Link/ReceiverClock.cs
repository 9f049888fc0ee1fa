namespace MeshTrace.Protocol.Link;

/// <summary>What the times of a receiver rest on.</summary>
public enum ClockBasis : byte
{
    /// <summary>Its clock is the one that all times are told in.</summary>
    Reference,

    /// <summary>Aligned by transmissions that others heard too.</summary>
    Aligned,

    /// <summary>The user said how far it is ahead.</summary>
    Given,

    /// <summary>It heard nothing that another receiver heard, for example because it recorded at another time: its times stand as they are.</summary>
    NothingShared,

    /// <summary>It heard what others heard, but no offset and drift fit: its times stand as they are.</summary>
    Refused,

    /// <summary>The input cannot be read twice, so nothing was compared: its times stand as they are.</summary>
    NotCompared,
}

/// <summary>How a receiver's clock was aligned with the others of one run.</summary>
/// <param name="Basis">What its times rest on.</param>
public sealed record ReceiverClock(ClockBasis Basis)
{
    /// <summary>How far its clock was ahead of the reference at its first frame, in nanoseconds; negative where it was behind.</summary>
    public long OffsetNs { get; init; }

    /// <summary>How much faster it runs than the reference, in parts per million.</summary>
    public double DriftPpm { get; init; }

    /// <summary>Hearings of this receiver that were compared with another's of the same transmission, and fit.</summary>
    public int Pairs { get; init; }

    /// <summary>What remains between two times of one transmission after the alignment, in nanoseconds: half of the pairs are within this.</summary>
    public long MedianResidualNs { get; init; }

    /// <summary>The same for 95 % of the pairs.</summary>
    public long LargeResidualNs { get; init; }

    /// <summary>Why it was not aligned, one sentence without final stop; null where it was.</summary>
    public string? Says { get; init; }
}

/// <summary>How far the clock of a receiver is ahead, as the user knows it.</summary>
/// <param name="Name">Name of the interface, of the file with or without its folder, or the receiver's number from 1.</param>
/// <param name="AheadNs">Nanoseconds; negative for a clock that is behind.</param>
public readonly record struct ReceiverOffset(string Name, long AheadNs);
