namespace MeshTrace.Captures.Files;

/// <summary>Bounds that keep a hostile or damaged file from taking memory or time.</summary>
internal static class CaptureLimits
{
    /// <summary>
    /// Captured octets of one frame that are believed without more evidence: the longest snap length that recorders commonly use (common
    /// practice, no source). A longer captured length means that the reader stands on something that is no record.
    /// </summary>
    public const int LongestUsualFrame = 262_144;

    /// <summary>
    /// Octets of one record or block that are ever held together, header included. A file whose own snap length is larger than
    /// <see cref="LongestUsualFrame"/> is believed up to here. The buffer grows only as octets really arrive.
    /// </summary>
    public const int LongestRecord = 16 * 1024 * 1024;

    /// <summary>Receivers (interfaces of all sections) of one file; each costs some hundred octets of memory.</summary>
    public const int MostReceivers = 65_536;

    /// <summary>Octets of an interface name that are kept.</summary>
    public const int LongestName = 1024;
}
