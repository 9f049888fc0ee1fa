namespace MeshTrace.Protocol.Access;

/// <summary>What a <see cref="DecodedField"/> holds.</summary>
public enum FieldKind : byte
{
    /// <summary>An unsigned integer of 1 to 64 bits, in <see cref="DecodedField.Number"/> (64 bits: <see cref="DecodedField.Unsigned"/>).</summary>
    Number,

    /// <summary>A two's complement integer, in <see cref="DecodedField.Number"/>.</summary>
    Signed,

    /// <summary>An IEEE 754 single, in <see cref="DecodedField.Real"/>; its bits stand in <see cref="DecodedField.Number"/>.</summary>
    Real,

    /// <summary>Octets in the order sent, in <see cref="DecodedField.Octets"/>.</summary>
    Octets,

    /// <summary>
    /// UTF-8 text, in <see cref="DecodedField.Text"/>; as sent in <see cref="DecodedField.Octets"/>. Not yet made safe for a terminal or a page.
    /// </summary>
    Text,

    /// <summary>Elements of one kind, in <see cref="DecodedField.Children"/>; their names repeat the list's.</summary>
    List,

    /// <summary>Named fields, in <see cref="DecodedField.Children"/>.</summary>
    Group,
}
