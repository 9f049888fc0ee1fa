using MeshTrace.Protocol.Link;

namespace MeshTrace.Synthesis.Radio;

/// <summary>One advertising event: the same packet on each of its channels.</summary>
internal sealed class AdvertisingEvent
{
    internal required Station From { get; init; }
    internal required ulong Advertiser { get; init; }
    internal required bool AdvertiserIsRandom { get; init; }
    internal required AdvertisingPduType PduType { get; init; }
    internal required byte[] AdvData { get; init; }

    /// <summary>What it carries: a Network PDU at its TTL, a beacon; null for unrelated advertising.</summary>
    internal object? Cargo { get; init; }

    /// <summary>The line of the truth for this event, or null where the truth keeps none.</summary>
    internal object? Record { get; init; }
}

/// <summary>One packet on one channel. It happens at its end: then every station knows what it got.</summary>
internal sealed class Transmission(Medium medium, AdvertisingEvent what, Station from, int channel, long startUs, long endUs) : Occurrence
{
    /// <summary>Null for interference: energy without a packet.</summary>
    internal AdvertisingEvent? What { get; } = what;
    internal Station From { get; } = from;
    internal int Channel { get; } = channel;
    internal long StartUs { get; } = startUs;
    internal long EndUs { get; } = endUs;

    internal override void Happen() => medium.Arrive(this);
}
