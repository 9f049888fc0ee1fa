using System.Runtime.CompilerServices;

namespace MeshTrace.Protocol.Bearer;

/// <summary>
/// Goes through the AD structures of advertising data (Bluetooth Core Specification, volume 3 part C §11).
/// </summary>
/// <remarks>Each: Length(8, of type and data) | AD Type(8) | data. Length 0 ends the data early; what follows it is padding.</remarks>
public ref struct AdStructureReader
{
    private ReadOnlySpan<byte> _rest;
    private readonly int _length;
    private int _missing;

    /// <summary>Begins before the first structure.</summary>
    public AdStructureReader(ReadOnlySpan<byte> advData)
    {
        _rest = advData;
        _length = advData.Length;
    }

    /// <summary>Type of the structure that <see cref="MoveNext"/> found.</summary>
    public AdType Type { get; private set; }

    /// <summary>Its data, perhaps empty.</summary>
    public ReadOnlySpan<byte> Data { get; private set; }

    /// <summary>After <see cref="MoveNext"/> returned false: None at the regular end, else the last structure is longer than the octets
    /// there are.</summary>
    public readonly DecodeProblem Problem =>
        _missing == 0 ? DecodeProblem.None : DecodeProblem.TooShort(Layer.Bearer, _length + _missing, _length, "AD structure");

    /// <summary>The next structure, or false at the end and at a structure that does not fit.</summary>
    [MethodImpl(MethodImplOptions.AggressiveInlining)]      // then the compiler keeps this reader in registers
    public bool MoveNext()
    {
        ReadOnlySpan<byte> rest = _rest;
        if (rest.IsEmpty || rest[0] == 0)
        {
            _rest = default;
            return false;
        }
        int length = rest[0];
        if (length >= rest.Length)
        {
            _missing = length + 1 - rest.Length;
            _rest = default;
            return false;
        }
        Type = (AdType)rest[1];
        Data = rest[2..(length + 1)];
        _rest = rest[(length + 1)..];
        return true;
    }
}
