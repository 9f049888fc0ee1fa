using MeshTrace.Protocol.Access.Meanings;

namespace MeshTrace.Protocol.Access.Layouts;

/// <summary>One element of a layout, as the table's text says it.</summary>
internal sealed class LayoutField
{
    public const int Mandatory = -1;

    public required string Name { get; init; }
    public required FieldForm Form { get; init; }

    /// <summary>Size of a field of fixed size, else 0.</summary>
    public int Bits { get; init; }

    /// <summary>Fields of a group.</summary>
    public Layout? Inner { get; init; }

    /// <summary>The field that names the property, for the property forms.</summary>
    public string? Reference { get; init; }

    /// <summary>Length in octets of a field or group that has no fixed size; null: to the end.</summary>
    public LengthRule? Length { get; init; }

    public bool IsList { get; init; }

    /// <summary>Number of elements of a list; null: to the end.</summary>
    public LengthRule? Count { get; init; }

    /// <summary>Neighbours with the same number are all there or all missing; <see cref="Mandatory"/> for none.</summary>
    public int OptionalRun { get; init; } = Mandatory;

    public LayoutCondition? Condition { get; init; }
    public Meaning? Meaning { get; init; }

    public bool IsInteger => Form is FieldForm.Unsigned or FieldForm.Signed;

    /// <summary>Reserved bits, which a sender leaves 0 and a caller need not name.</summary>
    public bool IsReserved => Name.StartsWith("RFU", StringComparison.Ordinal) || Name.StartsWith("Prohibited", StringComparison.Ordinal)
        || Name.StartsWith("Padding", StringComparison.Ordinal) || Name.EndsWith("RFU", StringComparison.Ordinal);
}
