namespace MeshTrace.Protocol.Access.Layouts;

/// <summary>The special forms, read.</summary>
internal ref partial struct LayoutReader
{
    private bool ReadSpecial(LayoutField field, Scope scope, List<DecodedField> target) => field.Form switch
    {
        FieldForm.ModelByLength => ReadModel(field, scope, target, RemainingBits >= 32 ? 32 : 16),
        FieldForm.VendorModel => ReadModel(field, scope, target, 32),
        FieldForm.Utf8Number => ReadUtf8Number(field, scope, target),
        FieldForm.AccessMessage => ReadMessage(field, scope, target),
        _ => ReadProperty(field, scope, target),
    };

    // 32 bits: company identifier, then vendor model identifier, each little-endian (Mesh Protocol 1.1 §4.2.1.1); as a number,
    // the company stands highest.
    private bool ReadModel(LayoutField field, Scope scope, List<DecodedField> target, int bits)
    {
        if (!Have(bits, field.Name))
            return false;
        long value = (long)Take(16);
        if (bits == 32)
            value = (value << 16) | (long)Take(16);
        target.Add(DecodedField.OfInteger(field.Name, signed: false, value, bits, field.Meaning, scope));
        return true;
    }

    private bool ReadUtf8Number(LayoutField field, Scope scope, List<DecodedField> target)
    {
        if (!Have(8, field.Name))
            return false;
        _bit = (_bit + 7) & ~7;
        ReadOnlySpan<byte> octets = _pdu[(_bit / 8)..(_endBit / 8)];
        int length = Utf8Number.Read(octets, out uint value);
        if (length == 0)
        {
            WrongValue(field.Name, octets[0]);
            return false;
        }
        _bit += length * 8;
        target.Add(DecodedField.OfInteger(field.Name, signed: false, value, length * 8, field.Meaning, scope));
        return true;
    }

    private bool ReadMessage(LayoutField field, Scope scope, List<DecodedField> target)
    {
        bool whole = TakeOctets(field, scope, out ReadOnlySpan<byte> octets);
        if (octets.IsEmpty)
            return whole;       // an item of an unacknowledged message has no response (Mesh Protocol 1.1 §4.3.9.3)
        target.Add(NestedMessage.Read(field.Name, octets, _messageDepth + 1, out DecodeProblem problem));
        if (problem.IsProblem)
            Note(problem with { Offset = problem.Offset + ((_bit / 8) - octets.Length) });
        return whole;
    }

    private bool ReadProperty(LayoutField field, Scope scope, List<DecodedField> target)
    {
        PropertyShape shape = PropertyShape.Of(field, scope);
        bool isSeries = field.Form != FieldForm.PropertyValue;
        int length = isSeries && shape.Octets > 0 ? shape.Octets : field.Length is { } rule ? LengthOf(rule, scope) : Rest;
        int had = Rest;
        int taken = Math.Min(length, had);
        if (taken == length && taken == shape.Octets && shape.Layout is { } layout)
        {
            var inner = new Scope(scope);
            int outerEnd = _endBit;
            _endBit = _bit + (taken * 8);
            ReadFields(layout, inner);
            _endBit = outerEnd;
            target.Add(PropertyShape.Value(field.Name, inner));
            return true;
        }
        ReadOnlySpan<byte> octets = _pdu.Slice((_bit + 7) / 8, taken);
        DecodedField raw = DecodedField.OfOctets(field.Name, octets.ToArray());
        target.Add(shape.Octets > 0 ? raw.Meaning(new Meanings.OddSizeMeaning(shape.Octets), scope) : raw);
        if (taken < length || (shape.Octets > 0 && taken < shape.Octets))
            TooShort(Math.Max(length, shape.Octets) * 8, field.Name);
        _bit += taken * 8;
        if (shape.Octets > 0 && taken > shape.Octets)
            Note(new DecodeProblem(ProblemKind.TooLong, _layer, _bit / 8, (_bit / 8) - taken + shape.Octets, _bit / 8, field.Name));
        return taken == length;
    }
}
