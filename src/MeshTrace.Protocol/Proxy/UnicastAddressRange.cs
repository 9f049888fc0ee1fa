using System.Buffers.Binary;

namespace MeshTrace.Protocol.Proxy;

/// <summary>A range of unicast addresses as big-endian messages carry it (Mesh Protocol 1.1 §3.6.5).</summary>
/// <remarks>LengthPresent(1) | RangeStart(15) | RangeLength(8), there only where LengthPresent is 1.</remarks>
/// <param name="Start">The lowest address.</param>
/// <param name="Length">How many addresses; 1 where the message tells no length.</param>
public readonly record struct UnicastAddressRange(MeshAddress Start, byte Length)
{
    /// <summary>Reads a range that must fill the octets to the end.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out UnicastAddressRange range)
    {
        range = default;
        if (octets.Length is not (2 or 3))
            return false;
        ushort first = BinaryPrimitives.ReadUInt16BigEndian(octets);
        bool lengthPresent = (first & 0x8000) != 0;
        if (lengthPresent != (octets.Length == 3))
            return false;
        range = new UnicastAddressRange(new MeshAddress((ushort)(first & 0x7FFF)), lengthPresent ? octets[2] : (byte)1);
        return true;
    }

    /// <summary>Writes the range, two octets for one address and three for several, and returns their number.</summary>
    public int Write(Span<byte> octets)
    {
        bool lengthPresent = Length != 1;
        BinaryPrimitives.WriteUInt16BigEndian(octets, (ushort)((Start.Value & 0x7FFF) | (lengthPresent ? 0x8000 : 0)));
        if (!lengthPresent)
            return 2;
        octets[2] = Length;
        return 3;
    }
}
