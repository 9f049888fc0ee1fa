using MeshTrace.Protocol.Access.Catalogue;

namespace MeshTrace.Protocol.Access.Layouts;

/// <summary>
/// The octets that a property value, or one column of a series property, takes: the property is named by another field of the message.
/// Nothing is known of a property that is not in the table (<see cref="Layout"/> null, <see cref="Octets"/> 0).
/// </summary>
internal readonly record struct PropertyShape(Layout? Layout, int Octets)
{
    public static PropertyShape Of(LayoutField field, Scope scope)
    {
        if (scope.Find(field.Reference!) is not { Number: >= 0 and <= ushort.MaxValue } named)
            return default;
        if (DeviceProperties.Find((ushort)named.Number) is not { } property)
            return default;
        Layout? layout = field.Form == FieldForm.PropertyValue ? property.Layout : SeriesColumn(property.Layout, field.Form);
        return layout is null ? default : new PropertyShape(layout, OctetsOf(layout));
    }

    /// <summary>A value of one field takes the name that the message gives it; of several, it is a group of that name.</summary>
    public static DecodedField Value(string name, Scope inner)
    {
        if (inner.Fields is [var only])
            return only.Named(name);
        return DecodedField.OfGroup(name, inner.Fields).Meaning(Meanings.PlainMeanings.Find("fields"), inner);
    }

    /// <summary>
    /// A series property is a value and the range that it holds for: <c>Value, Minimum, Maximum</c> in the order of its characteristic. Its column
    /// has the range's start (X), its width, and the value (Y) (Mesh Model 1.1 §4.1.5; which field is which is read off the characteristics).
    /// </summary>
    private static Layout? SeriesColumn(Layout property, FieldForm form)
    {
        if (property.Fields is not [var value, var from, var to] || from.Bits != to.Bits)
            return null;
        return new Layout(property.Text, [form == FieldForm.SeriesY ? value : from]);
    }

    private static int OctetsOf(Layout layout)
    {
        int bits = 0;
        foreach (LayoutField field in layout.Fields)
            bits += field.Bits;
        return bits / 8;
    }
}
