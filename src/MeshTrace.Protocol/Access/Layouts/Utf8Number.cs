namespace MeshTrace.Protocol.Access.Layouts;

/// <summary>
/// Numbers in the code of UTF-8, 1 to 4 octets: missing chunks of a BLOB block (Mesh Binary Large Object Transfer Model 1.0). They are numbers and
/// not characters, so that 0xD800-0xDFFF are allowed; the longer code of a number that has a shorter one is not.
/// </summary>
internal static class Utf8Number
{
    public const uint Largest = 0x1FFFFF;

    /// <summary>Returns the octets taken, or 0 where there is no such number.</summary>
    public static int Read(ReadOnlySpan<byte> octets, out uint value)
    {
        value = 0;
        if (octets.IsEmpty)
            return 0;
        byte first = octets[0];
        int length = first switch { < 0x80 => 1, < 0xC0 => 0, < 0xE0 => 2, < 0xF0 => 3, < 0xF8 => 4, _ => 0 };
        if (length == 0 || octets.Length < length)
            return 0;
        value = length == 1 ? first : first & (0x7Fu >> length);
        for (int i = 1; i < length; i++)
        {
            if ((octets[i] & 0xC0) != 0x80)
                return 0;
            value = (value << 6) | (octets[i] & 0x3Fu);
        }
        return LengthOf(value) == length ? length : 0;
    }

    /// <summary>Writes a number up to <see cref="Largest"/> and returns the octets written.</summary>
    public static int Write(Span<byte> destination, uint value)
    {
        int length = LengthOf(value);
        if (length == 1)
            destination[0] = (byte)value;
        else
        {
            for (int i = length - 1; i > 0; i--, value >>= 6)
                destination[i] = (byte)(0x80 | (value & 0x3F));
            destination[0] = (byte)(((0xF00u >> length) & 0xFF) | value);
        }
        return length;
    }

    private static int LengthOf(uint value) => value switch { < 0x80 => 1, < 0x800 => 2, < 0x10000 => 3, _ => 4 };
}
