using System.Runtime.CompilerServices;

namespace MeshTrace.Protocol.Access.Layouts;

/// <summary>
/// The one writer: a layout and fields give octets. What the reader gave without a problem is written back to the same octets.
/// A caller's mistake (unknown or missing field, value too large for its field, length that does not fit) is an <see cref="ArgumentException"/>.
/// </summary>
internal sealed class LayoutWriter
{
    private readonly string _message;
    private readonly BitWriter _octets;

    private LayoutWriter(string message, BitWriter octets)
    {
        _message = message;
        _octets = octets;
    }

    public static void Write(string message, Layout layout, IReadOnlyList<DecodedField> fields, BitWriter octets) =>
        new LayoutWriter(message, octets).WriteFields(layout, fields, new Scope(null));

    private void WriteFields(Layout layout, IReadOnlyList<DecodedField> given, Scope scope)
    {
        RefuseUnknown(layout, given);
        for (int i = 0; i < layout.Fields.Length; i++)
        {
            LayoutField field = layout.Fields[i];
            if (field.OptionalRun != LayoutField.Mandatory && !RunIsGiven(layout, i, given))
                continue;
            DecodedField? value = DecodedField.Find(given, field.Name);
            if (field.Condition is { } condition)
            {
                if (!condition.Holds(scope, field.Name, rest: null) || (condition.UsesRest && (value is null || !Fits(field, value))))
                    continue;
            }
            value ??= Missing(field, scope);
            WriteField(field, value, scope);
            scope.Fields.Add(value);
        }
    }

    private void WriteField(LayoutField field, DecodedField value, Scope scope)
    {
        int before = _octets.Length;
        if (!field.IsList)
            WriteOne(field, value, scope);
        else
        {
            if (value.Kind != FieldKind.List)
                throw Mistake(field, "is a list");
            if (field.Count is { UsesRest: false } count && count.Evaluate(scope, 0) != value.Children.Count)
                throw Mistake(field, $"has {value.Children.Count} elements, where another field says {count.Evaluate(scope, 0)}");
            foreach (DecodedField element in value.Children)
                WriteOne(field, element, scope);
            if (field.Bits % 8 != 0)
                _octets.Align();
        }
        bool sizeIsOfProperty = field.Form is FieldForm.SeriesX or FieldForm.SeriesWidth or FieldForm.SeriesY;
        if (!field.IsList && !sizeIsOfProperty && field.Length is { UsesRest: false } length)
        {
            long told = length.Evaluate(scope, 0) ?? 0;
            if (_octets.Length - before != told)
                throw Mistake(field, $"has {_octets.Length - before} octets, where another field says {told}");
        }
    }

    private void WriteOne(LayoutField field, DecodedField value, Scope scope)
    {
        if (value.Kind is FieldKind.Octets or FieldKind.Text && !field.IsInteger)
        {
            if (field.Bits > 0 && value.Octets.Length * 8 != field.Bits)
                throw Mistake(field, $"has {field.Bits / 8} octets, not {value.Octets.Length}");
            _octets.Write(value.Octets.Span);
            return;
        }
        switch (field.Form)
        {
            case FieldForm.Unsigned or FieldForm.Signed:
                WriteInteger(field, Integer(field, value), field.Bits, field.Form == FieldForm.Signed);
                break;
            case FieldForm.Real:
                long bits = value.Kind == FieldKind.Real ? value.Number : Unsafe.BitCast<float, uint>(Integer(field, value));
                _octets.Write(unchecked((ulong)bits), 32);
                break;
            case FieldForm.Group when value.Kind == FieldKind.Group:
                WriteFields(field.Inner!, value.Children, new Scope(scope));
                break;
            case FieldForm.ModelByLength or FieldForm.VendorModel:
                WriteModel(field, value);
                break;
            case FieldForm.Utf8Number:
                WriteUtf8Number(field, Integer(field, value));
                break;
            case FieldForm.AccessMessage when value.Kind == FieldKind.Group:
                _octets.Write(NestedMessage.Write(value));
                break;
            case FieldForm.PropertyValue or FieldForm.SeriesX or FieldForm.SeriesWidth or FieldForm.SeriesY:
                WriteProperty(field, value, scope);
                break;
            default:
                throw Mistake(field, $"cannot be a {value.Kind}");
        }
    }

    private void WriteInteger(LayoutField field, long value, int bits, bool signed)
    {
        long least = signed ? -1L << (bits - 1) : 0;
        long most = bits == 64 ? long.MaxValue : (1L << (signed ? bits - 1 : bits)) - 1;
        if ((value < least && bits < 64) || value > most)
            throw new ArgumentOutOfRangeException(field.Name, value, $"{_message}: {field.Name} has {bits} bits");
        _octets.Write(unchecked((ulong)value), bits);
    }

    private void WriteModel(LayoutField field, DecodedField value)
    {
        long model = Integer(field, value);
        if (field.Form == FieldForm.ModelByLength && value.Bits != 32 && model <= ushort.MaxValue)
            WriteInteger(field, model, 16, signed: false);
        else
        {
            WriteInteger(field, model >> 16, 16, signed: false);
            _octets.Write((ulong)(model & 0xFFFF), 16);
        }
    }

    private void WriteUtf8Number(LayoutField field, long value)
    {
        if (value is < 0 or > Utf8Number.Largest)
            throw new ArgumentOutOfRangeException(field.Name, value, $"{_message}: {field.Name} is at most {Utf8Number.Largest}");
        Span<byte> code = stackalloc byte[4];
        _octets.Write(code[..Utf8Number.Write(code, (uint)value)]);
    }

    private void WriteProperty(LayoutField field, DecodedField value, Scope scope)
    {
        if (PropertyShape.Of(field, scope).Layout is not { } layout)
            throw Mistake(field, "is of a property without a known layout: give octets");
        if (value.Kind == FieldKind.Group)
            WriteFields(layout, value.Children, new Scope(scope));
        else if (layout.Fields is [var only])
            WriteOne(only, value, scope);
        else
            throw Mistake(field, "has several values: give a group");
    }

    private long Integer(LayoutField field, DecodedField value) =>
        value.Kind is FieldKind.Number or FieldKind.Signed ? value.Number : throw Mistake(field, $"cannot be a {value.Kind}");

    // What a caller need not name: reserved bits, and parts that may have no octets.
    private DecodedField Missing(LayoutField field, Scope scope)
    {
        if (field.IsReserved && field.IsInteger)
            return DecodedField.OfNumber(field.Name, 0, field.Bits);
        if (field.IsList)
            return DecodedField.OfList(field.Name, []);
        bool mayBeEmpty = field.Bits == 0 && (field.Length is not null
            || field.Form is FieldForm.Octets or FieldForm.Text or FieldForm.PropertyValue or FieldForm.AccessMessage);
        if (mayBeEmpty && (field.Length is not { UsesRest: false } length || length.Evaluate(scope, 0) is 0 or null))
            return DecodedField.OfOctets(field.Name, ReadOnlyMemory<byte>.Empty);
        throw new ArgumentException($"{_message}: {field.Name} is missing", field.Name);
    }

    private static bool RunIsGiven(Layout layout, int at, IReadOnlyList<DecodedField> given)
    {
        int run = layout.Fields[at].OptionalRun;
        int first = at;
        while (first > 0 && layout.Fields[first - 1].OptionalRun == run)
            first--;
        for (int i = first; i < layout.Fields.Length && layout.Fields[i].OptionalRun == run; i++)
        {
            if (DecodedField.Find(given, layout.Fields[i].Name) is not null)
                return true;
        }
        return false;
    }

    private static bool Fits(LayoutField field, DecodedField value) => field.IsList
        ? value.Kind == FieldKind.List
        : field.Form switch
        {
            FieldForm.Group => value.Kind == FieldKind.Group,
            FieldForm.Octets or FieldForm.Text => value.Kind is FieldKind.Octets or FieldKind.Text,
            FieldForm.Real => value.Kind is FieldKind.Real or FieldKind.Number or FieldKind.Signed,
            FieldForm.Unsigned or FieldForm.Signed => value.Kind is FieldKind.Number or FieldKind.Signed,
            _ => true,
        };

    private void RefuseUnknown(Layout layout, IReadOnlyList<DecodedField> given)
    {
        foreach (DecodedField value in given)
        {
            if (!Array.Exists(layout.Fields, field => field.Name == value.Name))
                throw new ArgumentException($"{_message} has no field {value.Name}", value.Name);
        }
    }

    private ArgumentException Mistake(LayoutField field, string what) => new($"{_message}: {field.Name} {what}", field.Name);
}
