using System.Buffers.Binary;

namespace MeshTrace.Protocol.Link;

/// <summary>Packet_Boundary_Flag of ACL data (Bluetooth Core Specification, volume 4 part E §5.4.2; section number from memory).</summary>
public enum PacketBoundary : byte
{
    /// <summary>First packet of an L2CAP frame, not to be flushed: on LE what the host sends.</summary>
    FirstFromHost = 0,

    /// <summary>Continues the L2CAP frame of the packet before.</summary>
    Continuation = 1,

    /// <summary>First packet of an L2CAP frame: on LE what the controller hands up.</summary>
    First = 2,

    /// <summary>Not used on LE.</summary>
    Complete = 3,
}

/// <summary>HCI ACL Data packet (Bluetooth Core Specification, volume 4 part E §5.4.2): a piece of an L2CAP frame.</summary>
/// <remarks>Handle(12) | PB flag(2) | BC flag(2) | Data Total Length(16) | Data; little-endian.</remarks>
public readonly ref struct HciAclPacket
{
    public const int HeaderLength = 4;
    public const int HighestHandle = 0xEFF;

    private readonly ReadOnlySpan<byte> _packet;

    private HciAclPacket(ReadOnlySpan<byte> packet) => _packet = packet;

    /// <summary>Connection handle.</summary>
    public ushort Handle => (ushort)(BinaryPrimitives.ReadUInt16LittleEndian(_packet) & 0x0FFF);

    public PacketBoundary Boundary => (PacketBoundary)((_packet[1] >> 4) & 3);

    public ReadOnlySpan<byte> Data => _packet[HeaderLength..];

    /// <summary>Every check is here; once it has returned true, no property can fail. Octets behind those that the length tells are left.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out HciAclPacket packet, out DecodeProblem problem)
    {
        packet = default;
        problem = DecodeProblem.None;
        if (octets.Length < HeaderLength)
            problem = DecodeProblem.TooShort(Layer.Link, HeaderLength, octets.Length);
        else if (HeaderLength + BinaryPrimitives.ReadUInt16LittleEndian(octets[2..]) is var needed && octets.Length < needed)
            problem = DecodeProblem.TooShort(Layer.Link, needed, octets.Length);
        else
            packet = new HciAclPacket(octets[..needed]);
        return !problem.IsProblem;
    }

    /// <summary>Writes the packet and returns its length.</summary>
    public static int Write(Span<byte> packet, ushort handle, PacketBoundary boundary, ReadOnlySpan<byte> data)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(handle, 0x0FFF);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(data.Length, ushort.MaxValue, nameof(data));
        BinaryPrimitives.WriteUInt16LittleEndian(packet, (ushort)(handle | ((int)boundary << 12)));
        BinaryPrimitives.WriteUInt16LittleEndian(packet[2..], (ushort)data.Length);
        data.CopyTo(packet[HeaderLength..]);
        return HeaderLength + data.Length;
    }
}
