using MeshTrace.Synthesis.Nodes;

namespace MeshTrace.Synthesis.Truth;

/// <summary>A Network PDU on its way over a connection.</summary>
/// <param name="TimeUs">When the phone's host gave it away or had it.</param>
/// <param name="Phone">The phone.</param>
/// <param name="ToProxy">Written by the phone; else notified to it.</param>
/// <param name="Ttl">TTL of the PDU.</param>
internal sealed record GattTruth(long TimeUs, MeshNode Phone, bool ToProxy, byte Ttl);

/// <summary>What really became of one connection of a phone to its proxy.</summary>
internal sealed class ProxyTruth
{
    internal required MeshNode Phone { get; init; }
    internal required MeshNode Proxy { get; init; }

    /// <summary>When the link was there.</summary>
    internal required long StartUs { get; init; }
    internal long? EndUs { get; set; }

    /// <summary>closed (by the phone), lost (the proxy had no power), lasting.</summary>
    internal string Outcome { get; set; } = "lasting";

    /// <summary>Addresses that the phone asked into the accept list, and those that the proxy took.</summary>
    internal SortedSet<ushort> Asked { get; } = [];
    internal SortedSet<ushort> Held { get; } = [];

    /// <summary>Network PDUs that the phone wrote, and of those for others how many the proxy put on the air and how many it kept.</summary>
    internal int Written { get; set; }
    internal int PutOnAir { get; set; }
    internal int KeptFromAir { get; set; }

    /// <summary>Network PDUs that the proxy gave to the phone, and those to a group of the phone that its filter kept back.</summary>
    internal int Notified { get; set; }
    internal int Blocked { get; set; }
}
