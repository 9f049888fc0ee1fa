using System.Runtime.CompilerServices;
using System.Text;

namespace MeshTrace.Protocol.Access.Layouts;

/// <summary>
/// The one reader: a layout and octets give fields. No octets make it throw, read past the end, or run on: what cannot be read ends the
/// reading with a problem, and the fields before it stand.
/// </summary>
internal ref partial struct LayoutReader
{
    private readonly ReadOnlySpan<byte> _pdu;
    private readonly bool _bigEndian;
    private readonly Layer _layer;
    private readonly int _messageDepth;
    private int _bit;
    private int _endBit;
    private DecodeProblem _problem;

    private LayoutReader(ReadOnlySpan<byte> pdu, int start, bool bigEndian, Layer layer, int messageDepth)
    {
        _pdu = pdu;
        _bigEndian = bigEndian;
        _layer = layer;
        _messageDepth = messageDepth;
        _bit = start * 8;
        _endBit = pdu.Length * 8;
    }

    private readonly int RemainingBits => _endBit - _bit;

    /// <summary>Whole octets left.</summary>
    private readonly int Rest => RemainingBits / 8;

    /// <param name="layout">The fields that are expected.</param>
    /// <param name="pdu">The whole PDU, so that offsets in problems count from its beginning.</param>
    /// <param name="start">Octet offset of the first field.</param>
    /// <param name="bigEndian">True for control messages.</param>
    /// <param name="layer">The layer that problems name.</param>
    /// <param name="messageDepth">How many messages this one is inside (Opcodes Aggregator).</param>
    /// <param name="problem">The first problem.</param>
    public static IReadOnlyList<DecodedField> Read(
        Layout layout, ReadOnlySpan<byte> pdu, int start, bool bigEndian, Layer layer, int messageDepth, out DecodeProblem problem)
    {
        var reader = new LayoutReader(pdu, start, bigEndian, layer, messageDepth);
        var scope = new Scope(null);
        if (reader.ReadFields(layout, scope) && reader.RemainingBits > 0)
            reader.TooLong(null);
        problem = reader._problem;
        return scope.Fields;
    }

    // False: the reading ends here.
    private bool ReadFields(Layout layout, Scope scope)
    {
        int run = LayoutField.Mandatory;
        bool runIsThere = false;
        foreach (LayoutField field in layout.Fields)
        {
            if (field.OptionalRun != run)
            {
                run = field.OptionalRun;
                runIsThere = RemainingBits > 0;
            }
            if (run != LayoutField.Mandatory && !runIsThere)
                continue;
            if (field.Condition is { } condition && !condition.Holds(scope, field.Name, Rest))
                continue;
            if (!(field.IsList ? ReadList(field, scope) : ReadOne(field, scope, scope.Fields)))
                return false;
        }
        return true;
    }

    private bool ReadList(LayoutField field, Scope scope)
    {
        var elements = new List<DecodedField>();
        scope.Fields.Add(DecodedField.OfList(field.Name, elements));
        long count = long.MaxValue;
        if (field.Count is { } rule)
            count = rule.Evaluate(scope, Rest) ?? 0;
        for (long i = 0; i < count; i++)
        {
            if (field.Count is null && (RemainingBits == 0 || EndsInPadding(field)))
                return true;
            int before = _bit;
            if (!ReadOne(field, scope, elements))
                return false;
            if (_bit == before)
            {
                elements.RemoveAt(elements.Count - 1);   // an element of no size would repeat without end
                return true;
            }
        }
        return true;
    }

    // Key indexes of 12 bits: after an odd number of them 4 bits are left, which are 0 (Mesh Protocol 1.1 §4.3.1.1).
    private bool EndsInPadding(LayoutField field)
    {
        if (field.Bits % 8 == 0 || RemainingBits >= 8 || RemainingBits >= field.Bits)
            return false;
        if (Bits.Read(_pdu, _bit, RemainingBits, _bigEndian) != 0)
            WrongValue("Padding", 0);
        _bit = _endBit;
        return true;
    }

    private bool ReadOne(LayoutField field, Scope scope, List<DecodedField> target)
    {
        switch (field.Form)
        {
            case FieldForm.Unsigned:
            case FieldForm.Signed:
            {
                if (!Have(field.Bits, field.Name))
                    return false;
                target.Add(Integer(field, scope, field.Bits));
                return true;
            }
            case FieldForm.Real:
            {
                if (!Have(32, field.Name))
                    return false;
                float real = Unsafe.BitCast<uint, float>((uint)Take(32));
                target.Add(DecodedField.OfReal(field.Name, real).Meaning(field.Meaning, scope));
                return true;
            }
            case FieldForm.Octets:
            case FieldForm.Text:
            {
                bool whole = TakeOctets(field, scope, out ReadOnlySpan<byte> octets);
                target.Add(OctetsOrText(field, octets).Meaning(field.Meaning, scope));
                return whole;
            }
            case FieldForm.Group:
                return ReadGroup(field, scope, target);
            default:
                return ReadSpecial(field, scope, target);
        }
    }

    private bool ReadGroup(LayoutField field, Scope scope, List<DecodedField> target)
    {
        var inner = new Scope(scope);
        int before = target.Count;
        target.Add(DecodedField.OfGroup(field.Name, inner.Fields).Meaning(field.Meaning, inner));
        if (field.Length is not { } rule)
            return ReadFields(field.Inner!, inner);
        int outerEnd = _endBit;
        int length = LengthOf(rule, scope);
        bool enough = length <= Rest;
        if (enough)
            _endBit = _bit + (length * 8);
        if (length == 0)
        {
            target.RemoveAt(before);
            _endBit = outerEnd;
            return true;
        }
        bool read = ReadFields(field.Inner!, inner);
        if (!enough)
            return read ? TooShort(length * 8, field.Name) : false;
        if (read && RemainingBits > 0)
            TooLong(field.Name);
        _bit = _endBit;     // the length says where the next field begins, whatever was wrong inside
        _endBit = outerEnd;
        return true;
    }

    private DecodedField Integer(LayoutField field, Scope scope, int bits)
    {
        long value = Bits.ReadInteger(_pdu, _bit, bits, _bigEndian, field.Form == FieldForm.Signed);
        _bit += bits;
        return DecodedField.OfInteger(field.Name, field.Form == FieldForm.Signed, value, bits, field.Meaning, scope);
    }

    private ulong Take(int bits)
    {
        ulong value = Bits.Read(_pdu, _bit, bits, _bigEndian);
        _bit += bits;
        return value;
    }

    // Fewer octets than the length says: what is there is taken, and false.
    private bool TakeOctets(LayoutField field, Scope scope, out ReadOnlySpan<byte> octets)
    {
        _bit = (_bit + 7) & ~7;
        int length = field.Bits > 0 ? field.Bits / 8 : field.Length is { } rule ? LengthOf(rule, scope) : Rest;
        int taken = Math.Min(length, Rest);
        octets = _pdu.Slice(_bit / 8, taken);
        bool whole = taken == length || TooShort(length * 8, field.Name);
        _bit += taken * 8;
        return whole;
    }

    private readonly int LengthOf(LengthRule rule, Scope scope) => (int)Math.Min(rule.Evaluate(scope, Rest) ?? 0, ushort.MaxValue);

    private static DecodedField OctetsOrText(LayoutField field, ReadOnlySpan<byte> octets)
    {
        if (field.Form == FieldForm.Text && IsUtf8(octets))
            return DecodedField.OfText(field.Name, Encoding.UTF8.GetString(octets));
        return DecodedField.OfOctets(field.Name, octets.ToArray());
    }

    private static bool IsUtf8(ReadOnlySpan<byte> octets)
    {
        while (!octets.IsEmpty)
        {
            if (Rune.DecodeFromUtf8(octets, out _, out int taken) != System.Buffers.OperationStatus.Done)
                return false;
            octets = octets[taken..];
        }
        return true;
    }

    private bool Have(int bits, string name) => RemainingBits >= bits || TooShort(bits, name);

    private bool TooShort(int bits, string name)
    {
        Note(new DecodeProblem(ProblemKind.TooShort, _layer, _endBit / 8, (_bit + bits + 7) / 8, _endBit / 8, name));
        return false;
    }

    private void TooLong(string? name) =>
        Note(new DecodeProblem(ProblemKind.TooLong, _layer, (_bit + 7) / 8, (_bit + 7) / 8, _endBit / 8, name));

    private void WrongValue(string name, int had) => Note(DecodeProblem.WrongValue(_layer, _bit / 8, name, had));

    // The first problem is the cause; what follows it may be its effect.
    private void Note(DecodeProblem problem)
    {
        if (!_problem.IsProblem)
            _problem = problem;
    }
}
