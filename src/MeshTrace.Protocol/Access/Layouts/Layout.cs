namespace MeshTrace.Protocol.Access.Layouts;

/// <summary>The fields of a message or of a part of one, parsed from the text of a table row (docs/layout-syntax.md).</summary>
internal sealed class Layout
{
    private readonly int[] _fixedOffsets;

    public Layout(string text, LayoutField[] fields)
    {
        Text = text;
        Fields = fields;
        _fixedOffsets = FixedOffsets(fields);
    }

    public string Text { get; }
    public LayoutField[] Fields { get; }

    /// <summary>
    /// Reads one integer field without reading the others, if it stands at a place that no other field decides (little-endian messages).
    /// Returns null where the place is not fixed, so that the whole must be read.
    /// </summary>
    /// <param name="parameters">The octets after the opcode.</param>
    public bool? TryReadFixed(ReadOnlySpan<byte> parameters, string name, out long value)
    {
        value = 0;
        for (int i = 0; i < _fixedOffsets.Length; i++)
        {
            LayoutField field = Fields[i];
            if (!field.IsInteger || field.Name != name)
                continue;
            if (_fixedOffsets[i] + field.Bits > parameters.Length * 8)
                return false;
            value = Bits.ReadInteger(parameters, _fixedOffsets[i], field.Bits, bigEndian: false, field.Form == FieldForm.Signed);
            return true;
        }
        return _fixedOffsets.Length == Fields.Length ? false : null;
    }

    // Bit offsets of the leading fields whose place does not depend on the values of others. Optional runs keep their place when present.
    private static int[] FixedOffsets(LayoutField[] fields)
    {
        var offsets = new List<int>(fields.Length);
        int bit = 0;
        foreach (LayoutField field in fields)
        {
            if (field.Condition is not null || field.IsList || field.Bits == 0)
                break;
            offsets.Add(bit);
            bit += field.Bits;
        }
        return [.. offsets];
    }
}
