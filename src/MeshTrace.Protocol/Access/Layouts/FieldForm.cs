namespace MeshTrace.Protocol.Access.Layouts;

/// <summary>How a layout element stands on the air. The forms after <see cref="Group"/> are the special forms: what plain sizes cannot say.</summary>
internal enum FieldForm : byte
{
    Unsigned,
    Signed,

    /// <summary>IEEE 754 single.</summary>
    Real,

    /// <summary>Octets: a fixed number, a length rule, or the rest.</summary>
    Octets,

    /// <summary>As <see cref="Octets"/>, read as UTF-8 where it is that.</summary>
    Text,

    /// <summary>Fields of an inner layout.</summary>
    Group,

    /// <summary>Model identifier of 16 or 32 bits, as the length left tells.</summary>
    ModelByLength,

    /// <summary>Model identifier of 32 bits: company identifier, then vendor model identifier.</summary>
    VendorModel,

    /// <summary>A number in the code of UTF-8 (1 to 4 octets).</summary>
    Utf8Number,

    /// <summary>Value of the device property that another field names.</summary>
    PropertyValue,

    /// <summary>Column start, column width and value of a series property (see <see cref="PropertyShape"/>).</summary>
    SeriesX,
    SeriesWidth,
    SeriesY,

    /// <summary>A whole access message: opcode and parameters.</summary>
    AccessMessage,
}
