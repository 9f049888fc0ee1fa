namespace MeshTrace.Protocol;

/// <summary>The layer at which decoding stopped, in the order of the way up from the air.</summary>
public enum Layer : byte
{
    None,
    Link,
    Bearer,
    Network,
    LowerTransport,
    UpperTransport,
    Access,
    Beacon,
    Provisioning,
    Proxy,

    /// <summary>L2CAP, which carries the Attribute Protocol of connections.</summary>
    LogicalLink,

    /// <summary>The Attribute Protocol (ATT).</summary>
    Attribute,
}

/// <summary>Why octets could not be read as the PDU they were taken for.</summary>
public enum ProblemKind : byte
{
    None,

    /// <summary>Fewer octets than the PDU needs.</summary>
    TooShort,

    /// <summary>More octets than the PDU can have.</summary>
    TooLong,

    /// <summary>A field holds a value that the standard prohibits or that belongs to another PDU.</summary>
    WrongValue,
}

/// <summary>
/// What was wrong with octets from the air: a value, not an exception, kept with the history and worded by the reports.
/// <see cref="Kind"/> is <see cref="ProblemKind.None"/> for good octets.
/// </summary>
/// <param name="Kind">What is wrong.</param>
/// <param name="Layer">The layer that found it.</param>
/// <param name="Offset">Octet offset in the PDU of that layer.</param>
/// <param name="Needed">Octets needed (length problems), else 0.</param>
/// <param name="Had">Octets there were, or the value found.</param>
/// <param name="Field">The standard's name of the field, or null.</param>
public readonly record struct DecodeProblem(ProblemKind Kind, Layer Layer, int Offset, int Needed, int Had, string? Field)
{
    /// <summary>No problem.</summary>
    public static DecodeProblem None => default;

    /// <summary>True where there is a problem.</summary>
    public bool IsProblem => Kind != ProblemKind.None;

    /// <summary>A PDU of fixed length had another one.</summary>
    public static DecodeProblem WrongLength(Layer layer, int needed, int had) =>
        new(had < needed ? ProblemKind.TooShort : ProblemKind.TooLong, layer, Math.Min(needed, had), needed, had, null);

    /// <summary>Fewer octets than needed.</summary>
    public static DecodeProblem TooShort(Layer layer, int needed, int had, string? field = null) =>
        new(ProblemKind.TooShort, layer, had, needed, had, field);

    /// <summary>More octets than the PDU can have.</summary>
    public static DecodeProblem TooLong(Layer layer, int needed, int had, string? field = null) =>
        new(ProblemKind.TooLong, layer, needed, needed, had, field);

    /// <summary>A field has a value that cannot be.</summary>
    public static DecodeProblem WrongValue(Layer layer, int offset, string field, int had = 0) =>
        new(ProblemKind.WrongValue, layer, offset, 0, had, field);

    /// <inheritdoc />
    public override string ToString() => Kind switch
    {
        ProblemKind.None => "no problem",
        ProblemKind.TooShort => $"{Layer}: {Had} octets, {Needed} needed{(Field is null ? "" : $" for {Field}")}",
        ProblemKind.TooLong => $"{Layer}: {Had} octets, at most {Needed}{(Field is null ? "" : $" for {Field}")}",
        _ => $"{Layer}: {Field} at octet {Offset} has a value that cannot be ({Had})",
    };
}
