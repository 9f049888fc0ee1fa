using System.Buffers.Binary;
using System.Globalization;

namespace MeshTrace.Protocol.Access;

/// <summary>
/// The opcode of an access message as its octets stand on the wire, first octet highest: <c>0x04</c>, <c>0x8202</c>, <c>0xC15D00</c>
/// (Mesh Protocol 1.1 §3.7.2). A vendor opcode is its octet and then the company identifier, low octet first.
/// </summary>
public readonly record struct Opcode(uint Value)
{
    /// <summary>How many octets it takes: 1, 2 or 3.</summary>
    public int Octets => Value switch
    {
        < 0x80 => 1,
        < 0x10000 => 2,
        _ => 3,
    };

    public bool IsVendor => Value >= 0xC00000;

    /// <summary>The company identifier of a vendor opcode, else null.</summary>
    public ushort? Company => IsVendor ? BinaryPrimitives.ReverseEndianness((ushort)Value) : null;

    /// <summary>The vendor opcode that has this number (0-63) and company identifier.</summary>
    public static Opcode Vendor(byte number, ushort company) =>
        new(((uint)(0xC0 | (number & 0x3F)) << 16) | BinaryPrimitives.ReverseEndianness(company));

    /// <summary>Reads the opcode at the start of an access payload. 0x7F is reserved for future use and refused.</summary>
    public static bool TryRead(ReadOnlySpan<byte> accessPayload, out Opcode opcode, out DecodeProblem problem)
    {
        opcode = default;
        problem = DecodeProblem.None;
        if (accessPayload.IsEmpty)
            problem = DecodeProblem.TooShort(Layer.Access, 1, 0, "Opcode");
        else if (accessPayload[0] == 0x7F)
            problem = DecodeProblem.WrongValue(Layer.Access, 0, "Opcode", 0x7F);
        else
        {
            int octets = (accessPayload[0] & 0xC0) switch { 0x80 => 2, 0xC0 => 3, _ => 1 };
            if (accessPayload.Length < octets)
                problem = DecodeProblem.TooShort(Layer.Access, octets, accessPayload.Length, "Opcode");
            else
                opcode = new Opcode(octets switch
                {
                    1 => accessPayload[0],
                    2 => BinaryPrimitives.ReadUInt16BigEndian(accessPayload),
                    _ => ((uint)accessPayload[0] << 16) | BinaryPrimitives.ReadUInt16BigEndian(accessPayload[1..]),
                });
        }
        return !problem.IsProblem;
    }

    /// <summary>Writes the opcode and returns the number of octets written.</summary>
    public int Write(Span<byte> destination)
    {
        int octets = Octets;
        for (int i = 0; i < octets; i++)
            destination[i] = (byte)(Value >> (8 * (octets - 1 - i)));
        return octets;
    }

    /// <inheritdoc />
    public override string ToString() => "0x" + Value.ToString(Octets switch { 1 => "X2", 2 => "X4", _ => "X6" }, CultureInfo.InvariantCulture);
}
