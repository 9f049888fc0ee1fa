namespace MeshTrace.Protocol.Link;

/// <summary>What is known of the CRC of a link-layer packet.</summary>
public enum CrcCheck : byte
{
    /// <summary>There is none in the capture, it was cut off, or its initial value is not known (data channels).</summary>
    Unknown,
    Ok,
    Bad,
}
