namespace MeshTrace.Protocol.Bearer;

/// <summary>Puts AD structures one behind the other: what <see cref="AdStructureReader"/> reads.</summary>
public ref struct AdStructureWriter
{
    private readonly Span<byte> _destination;

    public AdStructureWriter(Span<byte> destination) => _destination = destination;

    /// <summary>Octets written so far.</summary>
    public int Length { get; private set; }

    /// <summary>Appends a structure.</summary>
    public void Append(AdType type, ReadOnlySpan<byte> data) => Length += Write(_destination[Length..], type, data);

    /// <summary>Writes one structure and returns its octets, two more than the data.</summary>
    public static int Write(Span<byte> destination, AdType type, ReadOnlySpan<byte> data)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(data.Length, 254, nameof(data));
        destination[0] = (byte)(data.Length + 1);
        destination[1] = (byte)type;
        data.CopyTo(destination[2..]);
        return data.Length + 2;
    }
}
