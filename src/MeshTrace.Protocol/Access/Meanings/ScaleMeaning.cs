using MeshTrace.Protocol.Access.Layouts;

namespace MeshTrace.Protocol.Access.Meanings;

/// <summary>How <see cref="ScaleMeaning"/> turns a raw value into a quantity.</summary>
internal enum Scale : byte
{
    /// <summary>factor x (v + shift), with its unit.</summary>
    Linear,

    /// <summary>The same, a time: worded in the unit that suits its size.</summary>
    Time,

    /// <summary>factor x 2^(v + shift).</summary>
    PowerOfTwo,
}

/// <summary>A quantity with a unit.</summary>
internal sealed class ScaleMeaning(Scale scale, double factor, double shift, string unit, int decimals) : Meaning
{
    public override string? Read(DecodedField field, Scope? scope)
    {
        if (field.Kind is not (FieldKind.Number or FieldKind.Signed))
            return null;
        double value = field is { Kind: FieldKind.Number, Bits: 64 } ? field.Unsigned : field.Number;
        if (scale == Scale.PowerOfTwo && value + shift is < 0 or > 62)
            return null;
        if (scale == Scale.Linear && factor == 1 && shift == 0 && unit.Length == 0)
            return null;    // the raw number says it; only the special values have words
        double quantity = scale == Scale.PowerOfTwo ? factor * Math.Pow(2, value + shift) : factor * (value + shift);
        if ((scale != Scale.Linear) && Durations.MillisecondsIn(unit) is { } ms)
            return Durations.Say(quantity * ms);
        string number = Format(quantity, decimals);
        return unit.Length == 0 ? number : $"{number} {unit}";
    }
}
