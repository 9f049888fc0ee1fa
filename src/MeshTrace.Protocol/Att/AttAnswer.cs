using System.Buffers.Binary;

namespace MeshTrace.Protocol.Att;

/// <summary>One entry of an <see cref="AttAnswer"/>.</summary>
/// <param name="Handle">Attribute handle.</param>
/// <param name="EndHandle">Last handle of the group, where the answer tells it; else 0.</param>
/// <param name="Value">Value or UUID, as the answer's opcode has it.</param>
public readonly ref struct AttEntry(ushort Handle, ushort EndHandle, ReadOnlySpan<byte> Value)
{
    public ushort Handle { get; } = Handle;
    public ushort EndHandle { get; } = EndHandle;
    public ReadOnlySpan<byte> Value { get; } = Value;

    /// <summary>Of a characteristic declaration: Properties(8) | Value Handle(16) | UUID (volume 3 part G §3.3.1): false if it is too short for one.</summary>
    public bool TryReadCharacteristic(out ushort valueHandle, out ushort? uuid)
    {
        bool fits = Value.Length is 5 or 19;
        valueHandle = fits ? BinaryPrimitives.ReadUInt16LittleEndian(Value[1..]) : (ushort)0;
        uuid = fits ? AttUuid.ShortForm(Value[3..]) : null;
        return fits;
    }
}

/// <summary>
/// An answer with a list of attributes: Find Information, Find By Type Value, Read By Type and Read By Group Type Response, and Multiple Handle Value
/// Notification (Bluetooth Core Specification, volume 3 part F §3.4; section numbers from memory).
/// </summary>
/// <remarks>
/// Find Information: Format(8), then handle(16) and UUID. Find By Type Value: handle(16), group end(16). Read By Type: Length(8), then handle(16) and
/// value. Read By Group Type: Length(8), then handle(16), group end(16), value. Multiple Handle Value: handle(16), Length(16), value. Little-endian.
/// </remarks>
public ref struct AttAnswer
{
    private readonly AttOpcode _opcode;
    private readonly int _entryLength;
    private ReadOnlySpan<byte> _rest;

    private AttAnswer(AttOpcode opcode, int entryLength, ReadOnlySpan<byte> entries)
    {
        _opcode = opcode;
        _entryLength = entryLength;
        _rest = entries;
    }

    /// <summary>Every check but that of the last entry's length is here.</summary>
    public static bool TryRead(in AttPdu pdu, out AttAnswer answer, out DecodeProblem problem)
    {
        answer = default;
        problem = DecodeProblem.None;
        ReadOnlySpan<byte> parameters = pdu.Parameters;
        bool tellsLength = pdu.Opcode is AttOpcode.FindInformationRsp or AttOpcode.ReadByTypeRsp or AttOpcode.ReadByGroupTypeRsp;
        if (tellsLength && parameters.IsEmpty)
        {
            problem = DecodeProblem.TooShort(Layer.Attribute, 2, 1, "Length");
            return false;
        }
        int entry = pdu.Opcode switch
        {
            AttOpcode.FindInformationRsp => parameters[0] switch { 1 => 4, 2 => 18, _ => 0 },
            AttOpcode.FindByTypeValueRsp or AttOpcode.MultipleHandleValueNtf => 4,
            AttOpcode.ReadByTypeRsp => parameters[0] >= 2 ? parameters[0] : 0,
            AttOpcode.ReadByGroupTypeRsp => parameters[0] >= 4 ? parameters[0] : 0,
            _ => 0,
        };
        if (entry == 0)
            problem = DecodeProblem.WrongValue(Layer.Attribute, tellsLength ? 1 : 0, tellsLength ? "Length" : "Opcode", tellsLength ? parameters[0] : (int)pdu.Opcode);
        else
            answer = new AttAnswer(pdu.Opcode, entry, tellsLength ? parameters[1..] : parameters);
        return !problem.IsProblem;
    }

    /// <summary>The next entry; false at the end. What is left and too short for an entry is passed over.</summary>
    public bool TryReadNext(out AttEntry entry)
    {
        entry = default;
        if (_entryLength == 0 || _rest.Length < _entryLength)
            return false;
        ushort handle = BinaryPrimitives.ReadUInt16LittleEndian(_rest), second = _entryLength >= 4 ? BinaryPrimitives.ReadUInt16LittleEndian(_rest[2..]) : (ushort)0;
        int length = _entryLength;
        switch (_opcode)
        {
            case AttOpcode.FindByTypeValueRsp:
                entry = new AttEntry(handle, second, default);
                break;
            case AttOpcode.ReadByGroupTypeRsp:
                entry = new AttEntry(handle, second, _rest[4..length]);
                break;
            case AttOpcode.MultipleHandleValueNtf:
                length = 4 + second;
                if (length > _rest.Length)
                    return false;
                entry = new AttEntry(handle, 0, _rest[4..length]);
                break;
            default:
                entry = new AttEntry(handle, 0, _rest[2..length]);
                break;
        }
        _rest = _rest[length..];
        return true;
    }

    /// <summary>Begins an answer with entries of one length: opcode and, where the opcode has it, Length or Format; returns the octets written.</summary>
    /// <param name="entryLength">Octets of each entry.</param>
    public static int WriteHeader(Span<byte> pdu, AttOpcode opcode, int entryLength)
    {
        pdu[0] = (byte)opcode;
        if (opcode is AttOpcode.FindByTypeValueRsp or AttOpcode.MultipleHandleValueNtf)
            return 1;
        pdu[1] = (byte)(opcode == AttOpcode.FindInformationRsp ? entryLength == 4 ? 1 : 2 : entryLength);
        return 2;
    }

    /// <summary>Adds an entry behind those written; returns its length.</summary>
    public static int WriteEntry(Span<byte> destination, AttOpcode opcode, ushort handle, ushort endHandle, ReadOnlySpan<byte> value)
    {
        BinaryPrimitives.WriteUInt16LittleEndian(destination, handle);
        int at = 2;
        if (opcode is AttOpcode.FindByTypeValueRsp or AttOpcode.ReadByGroupTypeRsp or AttOpcode.MultipleHandleValueNtf)
        {
            BinaryPrimitives.WriteUInt16LittleEndian(destination[2..], opcode == AttOpcode.MultipleHandleValueNtf ? (ushort)value.Length : endHandle);
            at = 4;
        }
        value.CopyTo(destination[at..]);
        return at + value.Length;
    }

    /// <summary>Writes the value of a characteristic declaration with a 16-bit UUID and returns its length.</summary>
    public static int WriteCharacteristic(Span<byte> value, byte properties, ushort valueHandle, ushort uuid)
    {
        value[0] = properties;
        BinaryPrimitives.WriteUInt16LittleEndian(value[1..], valueHandle);
        return 3 + AttUuid.Write(value[3..], uuid);
    }
}
