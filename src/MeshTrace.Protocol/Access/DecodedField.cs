using System.Runtime.CompilerServices;
using System.Text;
using MeshTrace.Protocol.Access.Layouts;
using MeshTrace.Protocol.Access.Meanings;

namespace MeshTrace.Protocol.Access;

/// <summary>
/// One field of a decoded message under the standard's name: the raw value, and beside it what it says in human words and units.
/// Two fields are equal when name, kind, size and raw values are equal, children included.
/// </summary>
public sealed record DecodedField
{
    private readonly Meaning? _meaning;
    private readonly Scope? _scope;
    private bool _hasReads;

    private DecodedField(string name, FieldKind kind, Meaning? meaning = null, Scope? scope = null)
    {
        Name = name;
        Kind = kind;
        _meaning = meaning;
        _scope = scope;
    }

    /// <summary>The standard's name of the field.</summary>
    public string Name { get; }

    public FieldKind Kind { get; }

    /// <summary>The raw integer; for <see cref="FieldKind.Real"/> the 32 bits of the value.</summary>
    public long Number { get; private init; }

    /// <summary><see cref="Number"/> as the unsigned value that a 64-bit field holds.</summary>
    public ulong Unsigned => unchecked((ulong)Number);

    public double Real { get; private init; }

    public ReadOnlyMemory<byte> Octets { get; private init; }

    public string? Text { get; private init; }

    /// <summary>Elements of a list, or fields of a group; else empty.</summary>
    public IReadOnlyList<DecodedField> Children { get; private init; } = [];

    /// <summary>True for a number that is a mesh address, of any kind.</summary>
    public bool IsAddress => Kind == FieldKind.Number && ReferenceEquals(_meaning, PlainMeanings.Address);

    /// <summary>
    /// Size on the air of an integer; 0 where the layout decides. A model identifier has 16 (SIG) or 32 bits (company identifier, then model).
    /// </summary>
    public int Bits { get; private init; }

    /// <summary>The value in human words and units ("2.0 s", "on", "0xC001"); null where the raw value says all.</summary>
    public string? Reads
    {
        get
        {
            if (!_hasReads)
            {
                field = Kind == FieldKind.List ? ReadsOfElements() : _meaning?.Read(this, _scope);
                _hasReads = true;
            }
            return field;
        }
    }

    /// <summary>The first child of that name, or null.</summary>
    public DecodedField? this[string name] => Find(Children, name);

    public static DecodedField OfNumber(string name, long value, int bits = 0) => new(name, FieldKind.Number) { Number = value, Bits = bits };

    public static DecodedField OfSigned(string name, long value, int bits = 0) => new(name, FieldKind.Signed) { Number = value, Bits = bits };

    public static DecodedField OfReal(string name, float value) =>
        new(name, FieldKind.Real) { Real = value, Number = Unsafe.BitCast<float, uint>(value), Bits = 32 };

    public static DecodedField OfOctets(string name, ReadOnlyMemory<byte> octets) => new(name, FieldKind.Octets) { Octets = octets };

    public static DecodedField OfText(string name, string text) =>
        new(name, FieldKind.Text) { Text = text, Octets = Encoding.UTF8.GetBytes(text) };

    public static DecodedField OfList(string name, IReadOnlyList<DecodedField> elements) => new(name, FieldKind.List) { Children = elements };

    public static DecodedField OfGroup(string name, IReadOnlyList<DecodedField> fields) => new(name, FieldKind.Group) { Children = fields };

    /// <summary>A list of plain numbers.</summary>
    public static DecodedField OfNumbers(string name, params IReadOnlyList<long> values)
    {
        ArgumentNullException.ThrowIfNull(values);
        var elements = new DecodedField[values.Count];
        for (int i = 0; i < elements.Length; i++)
            elements[i] = OfNumber(name, values[i]);
        return OfList(name, elements);
    }

    /// <summary>The first field of that name, or null.</summary>
    internal static DecodedField? Find(IReadOnlyList<DecodedField> fields, string name)
    {
        foreach (DecodedField field in fields)
        {
            if (field.Name == name)
                return field;
        }
        return null;
    }

    /// <summary>The same field with a meaning, which may look at the fields beside it.</summary>
    internal DecodedField Meaning(Meaning? meaning, Scope scope) => With(Name, meaning, scope);

    /// <summary>The same field under another name.</summary>
    internal DecodedField Named(string name) => With(name, _meaning, _scope);

    internal static DecodedField OfInteger(string name, bool signed, long value, int bits, Meaning? meaning, Scope scope) =>
        new(name, signed ? FieldKind.Signed : FieldKind.Number, meaning, scope) { Number = value, Bits = bits };

    public bool Equals(DecodedField? other)
    {
        if (other is null || Name != other.Name || Kind != other.Kind || Number != other.Number || Bits != other.Bits
            || !Octets.Span.SequenceEqual(other.Octets.Span) || Children.Count != other.Children.Count)
            return false;
        for (int i = 0; i < Children.Count; i++)
        {
            if (!Children[i].Equals(other.Children[i]))
                return false;
        }
        return true;
    }

    public override int GetHashCode() => HashCode.Combine(Name, Kind, Number, Octets.Length, Children.Count);

    private DecodedField With(string name, Meaning? meaning, Scope? scope) => new(name, Kind, meaning, scope)
    {
        Number = Number, Real = Real, Octets = Octets, Text = Text, Children = Children, Bits = Bits,
    };

    private string? ReadsOfElements()
    {
        const int mostShown = 16;   // a longer list says little in one line; its elements keep their own words
        if (Children.Count is 0 or > mostShown)
            return null;
        var words = new string[Children.Count];
        for (int i = 0; i < words.Length; i++)
        {
            if (Children[i].Reads is not { } reads)
                return null;
            words[i] = reads;
        }
        return string.Join(", ", words);
    }
}
