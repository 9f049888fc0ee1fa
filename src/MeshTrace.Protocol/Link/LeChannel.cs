namespace MeshTrace.Protocol.Link;

/// <summary>
/// Channel index and RF channel (Bluetooth Core Specification, volume 6 part B §1.4.1). RF channel n is at 2402 + 2n MHz; the primary
/// advertising channels 37, 38 and 39 are RF channels 0, 12 and 39.
/// </summary>
public static class LeChannel
{
    public const int Count = 40;

    /// <summary>Channel index of an RF channel, or null outside 0-39.</summary>
    public static int? IndexOfRf(int rfChannel) => (uint)rfChannel < Count ? RfToIndex[rfChannel] : null;

    /// <summary>RF channel of a channel index, or null outside 0-39.</summary>
    public static int? RfOfIndex(int channelIndex) => channelIndex switch
    {
        37 => 0,
        >= 0 and <= 10 => channelIndex + 1,
        38 => 12,
        >= 11 and <= 36 => channelIndex + 2,
        39 => 39,
        _ => null,
    };

    /// <summary>True for the three channels on which mesh advertising is sent.</summary>
    public static bool IsPrimaryAdvertising(int channelIndex) => channelIndex is >= 37 and <= 39;

    internal static ReadOnlySpan<byte> RfToIndex =>
    [
        37, 0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 38, 11, 12, 13, 14, 15, 16, 17,
        18, 19, 20, 21, 22, 23, 24, 25, 26, 27, 28, 29, 30, 31, 32, 33, 34, 35, 36, 39,
    ];
}
