namespace MeshTrace.Analysis.Description;

/// <summary>Bounds on a network description. Memory stays proportional to the file; these bound the file and refuse what no network can be.</summary>
public static class DescriptionLimits
{
    /// <summary>Size of a file: 12 KB each for 10,000 nodes. The worst that fits (a list of single digits) needs some seven times as much memory.</summary>
    public const int FileOctets = 128 * 1024 * 1024;

    /// <summary>Nesting of JSON values; the profile needs 9. Extra members may go deeper than it.</summary>
    public const int Depth = 64;

    /// <summary>Entries of any one list: twice the number of unicast addresses (Mesh Protocol 1.1 §3.4.2.2).</summary>
    public const int ListEntries = 65_536;

    /// <summary>Elements of a node: the count is one octet in the Provisioning Capabilities PDU (Mesh Protocol 1.1 §5.4.1.2).</summary>
    public const int ElementsPerNode = 255;

    /// <summary>Highest NetKey or AppKey index: 12 bits (Mesh Protocol 1.1 §4.3.1.1).</summary>
    public const int HighestKeyIndex = 4095;
}
