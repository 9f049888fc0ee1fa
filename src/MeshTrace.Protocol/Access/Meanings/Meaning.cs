using System.Globalization;
using MeshTrace.Protocol.Access.Layouts;

namespace MeshTrace.Protocol.Access.Meanings;

/// <summary>What a raw value says in human words and units.</summary>
internal abstract class Meaning
{
    /// <summary>The words, or null where the value has none.</summary>
    /// <param name="field">The field itself.</param>
    /// <param name="scope">The fields beside it and around it.</param>
    public abstract string? Read(DecodedField field, Scope? scope);

    /// <summary>A name of the table meanings.tsv, or a definition (<see cref="MeaningParser"/>). Null if it is neither.</summary>
    public static Meaning? TryParse(string text) => NamedMeanings.Find(text) ?? MeaningParser.TryParse(text);

    protected static string Format(double value, int decimals) =>
        value.ToString("F" + decimals.ToString(CultureInfo.InvariantCulture), CultureInfo.InvariantCulture);
}
