using System.Diagnostics.CodeAnalysis;
using System.Runtime.CompilerServices;
using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Floods;

/// <summary>The security material a Network PDU was sent with (Mesh Protocol 1.1 §3.9.6.3.1).</summary>
public enum Credentials : byte
{
    Flooding,
    Friendship,
    Directed,
}

/// <summary>Sixteen octets in place: the largest Lower Transport PDU (Mesh Protocol 1.1 §3.4.4).</summary>
[InlineArray(16)]
public struct TransportOctets
{
    private byte _first;
}

/// <summary>One Network PDU as the whole network carried it: all its copies, at every TTL.</summary>
public struct FloodRow
{
    internal TransportOctets Octets;
    internal byte OctetCount;
    internal byte TtlHigh, TtlLow;
    internal byte OriginField;      // OriginHeard, OriginUnknown, or the original's TTL with OriginTold
    internal int FirstContent;      // contents (one a TTL) are chained
    internal int NextSameKey;       // chain of the identity map
    internal int MessageField;      // row of the message it belongs to, or -1
    internal int TransferField;     // row of the transfer it belongs to, or -1

    public long FirstTimeNs { get; internal set; }
    public long LastTimeNs { get; internal set; }

    /// <summary>Row in <see cref="KeyRing.Subnets"/>.</summary>
    public int Subnet { get; internal set; }
    public uint IvIndex { get; internal set; }

    /// <summary>24-bit sequence number.</summary>
    public uint Seq { get; internal set; }
    public MeshAddress Src { get; internal set; }
    public MeshAddress Dst { get; internal set; }
    public Credentials Credentials { get; internal set; }
    public bool Ctl { get; internal set; }
    internal Bearers BearersField;

    /// <summary>Over which bearers copies were heard.</summary>
    public readonly Bearers HeardBy => BearersField;

    /// <summary>At least one copy was heard on the advertising bearer.</summary>
    public readonly bool HeardOnAir => (BearersField & Bearers.Advertising) != 0;

    /// <summary>How many copies were heard.</summary>
    public int Copies { get; internal set; }

    /// <summary>A copy told a TTL that its originator or a hop on the air gave it: not only what a proxy server passed on, or a text log tells.</summary>
    public readonly bool TellsTtl => (BearersField & (Bearers.Advertising | Bearers.GattFromClient)) != 0;

    internal const byte OriginHeard = 0, OriginTold = 0x80, OriginUnknown = 0xFF;

    /// <summary>TTL with which the originator sent it, 0-127: the highest heard, unless that was a relay's; null where it cannot be told.</summary>
    public readonly int? OriginalTtl => OriginField switch
    {
        OriginHeard => TtlHigh,
        OriginUnknown => null,
        _ => OriginField & 0x7F,
    };

    public readonly byte HighestTtl => TtlHigh;
    public readonly byte LowestTtl => TtlLow;

    /// <summary>Row of the message this PDU belongs to, or null.</summary>
    public readonly int? Message => MessageField < 0 ? null : MessageField;

    /// <summary>Row of the transfer this PDU belongs to, as segment or acknowledgment, or null.</summary>
    public readonly int? Transfer => TransferField < 0 ? null : TransferField;

    /// <summary>The decrypted Lower Transport PDU.</summary>
    [UnscopedRef]
    public readonly ReadOnlySpan<byte> TransportPdu => ((ReadOnlySpan<byte>)Octets)[..OctetCount];
}
