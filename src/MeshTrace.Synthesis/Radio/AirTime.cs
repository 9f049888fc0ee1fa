namespace MeshTrace.Synthesis.Radio;

/// <summary>How long legacy advertising packets last on LE 1M (Core Specification, volume 6 part B §2.1): 8 µs an octet.</summary>
public static class AirTime
{
    public const int MicrosecondsPerOctet = 8;

    /// <summary>Preamble 1, access address 4, PDU header 2, AdvA 6, CRC 3 octets.</summary>
    public const int OverheadOctets = 1 + 4 + 2 + 6 + 3;

    /// <summary>Longest AdvData of a legacy advertising PDU.</summary>
    public const int LongestAdvData = 31;

    /// <summary>Time on air of an advertising packet with so many octets of AdvData, in µs.</summary>
    public static int OfAdvertising(int advDataOctets) => (OverheadOctets + advDataOctets) * MicrosecondsPerOctet;
}
