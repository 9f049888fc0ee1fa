using MeshTrace.Protocol.Link;

namespace MeshTrace.Synthesis.Connections;

/// <summary>How a receiver that follows connections records them.</summary>
public sealed record AirRecording
{
    /// <summary>251, 256 or 272.</summary>
    public LinkType LinkType { get; init; } = LinkType.LeLinkLayerWithRadioHeader;

    /// <summary>Share of the packets that the other side receives with a wrong CRC, so that they are sent again.</summary>
    public double Retransmitted { get; init; }

    /// <summary>Share of the packets that the receiver does not record.</summary>
    public double Missed { get; init; }

    /// <summary>Share of the packets that the receiver records with a wrong CRC.</summary>
    public double BadCrc { get; init; }

    /// <summary>The receiver misses the begin of each connection.</summary>
    public bool MissesBegin { get; init; }

    /// <summary>The central encrypts each connection before anything else.</summary>
    public bool Encrypts { get; init; }

    public int Seed { get; init; } = 1;
}
