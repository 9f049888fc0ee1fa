namespace MeshTrace.Protocol.Link;

/// <summary>What the file says of an HCI packet beside its octets (BTSnoop record flags).</summary>
public enum HciKind : byte
{
    Unknown,
    Command,
    Event,
    AclSent,
    AclReceived,
    Other,
}

/// <summary>One frame as a capture file or receiver gave it. Valid until the source is asked for the next one.</summary>
/// <remarks>
/// Not readonly, so that readers write it in place, member by member: what is made elsewhere is copied sixteen octets at a time, and a processor that has just
/// written them four by four waits until they are all in its cache.
/// </remarks>
public ref struct CapturedFrame
{
    /// <summary>Earliest and latest time that the analysis takes for a time, 1933 and 2116: anything else is no clock's.</summary>
    public const long EarliestNs = -(1L << 60), LatestNs = 1L << 62;

    /// <summary>
    /// Stands in <see cref="TimeNs"/> where the file tells no time: long before any time, yet so that its difference from a time, with days added, fits 64 bits.
    /// </summary>
    public const long NoTime = -(1L << 62) + (1L << 50);

    /// <summary>Index of the receiver (capture interface) over all files, from 0.</summary>
    public required int Receiver { readonly get; set; }

    public required LinkType LinkType { readonly get; set; }

    /// <summary>Nanoseconds since 1970-01-01 UTC, or <see cref="NoTime"/>.</summary>
    public required long TimeNs { readonly get; set; }

    /// <summary>Octets that the frame had on the air or wire; more than <see cref="Octets"/> holds if the capture cut it.</summary>
    public required int OriginalLength { readonly get; set; }

    /// <summary>Where the record of this frame begins in its (unpacked) file.</summary>
    public required long FileOffset { readonly get; set; }

    /// <summary>The octets, link-layer header included.</summary>
    public required ReadOnlySpan<byte> Octets { readonly get; set; }

    /// <summary>For HCI link types whose octets do not tell it themselves. With H4, which tells the kind, it tells the direction of ACL data.</summary>
    public HciKind Hci { readonly get; set; }

    /// <summary>True if the capture file marks the frame as received with a CRC error.</summary>
    public bool MarkedCrcBad { readonly get; set; }

    /// <summary>True if octets are missing at the end: cut by the snap length or by the end of the file.</summary>
    public readonly bool IsCut => Octets.Length < OriginalLength;
}
