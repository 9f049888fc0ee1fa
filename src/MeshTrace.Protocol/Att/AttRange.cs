using System.Buffers.Binary;

namespace MeshTrace.Protocol.Att;

/// <summary>
/// A request over a range of handles: Find Information, Find By Type Value, Read By Type, Read By Group Type (Bluetooth Core Specification, volume 3
/// part F §3.4.3, §3.4.4; section numbers from memory).
/// </summary>
/// <remarks>Starting Handle(16) | Ending Handle(16) | type (16 or 128; none for Find Information) | value (Find By Type Value only); little-endian.</remarks>
public readonly ref struct AttRange
{
    private readonly ReadOnlySpan<byte> _parameters;
    private readonly int _typeLength;

    private AttRange(ReadOnlySpan<byte> parameters, int typeLength)
    {
        _parameters = parameters;
        _typeLength = typeLength;
    }

    public ushort Start => BinaryPrimitives.ReadUInt16LittleEndian(_parameters);

    public ushort End => BinaryPrimitives.ReadUInt16LittleEndian(_parameters[2..]);

    /// <summary>Attribute type or group type in its 16-bit form; null where there is none.</summary>
    public ushort? Type => AttUuid.ShortForm(_parameters.Slice(4, _typeLength));

    /// <summary>Of Find By Type Value: the value looked for.</summary>
    public ReadOnlySpan<byte> Value => _parameters[(4 + _typeLength)..];

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(in AttPdu pdu, out AttRange range, out DecodeProblem problem)
    {
        range = default;
        int typeLength = pdu.Opcode switch
        {
            AttOpcode.FindInformationReq => 0,
            AttOpcode.FindByTypeValueReq => 2,
            AttOpcode.ReadByTypeReq or AttOpcode.ReadByGroupTypeReq => pdu.Parameters.Length == 20 ? 16 : 2,
            _ => -1,
        };
        problem = typeLength < 0 ? DecodeProblem.WrongValue(Layer.Attribute, 0, "Opcode", (int)pdu.Opcode)
            : pdu.Parameters.Length < 4 + typeLength ? DecodeProblem.TooShort(Layer.Attribute, 5 + typeLength, 1 + pdu.Parameters.Length)
            : DecodeProblem.None;
        if (!problem.IsProblem)
            range = new AttRange(pdu.Parameters, typeLength);
        return !problem.IsProblem;
    }

    /// <summary>Writes a request with a 16-bit type (0 for Find Information, which has none) and returns its length.</summary>
    public static int Write(Span<byte> pdu, AttOpcode opcode, ushort start, ushort end, ushort type, ReadOnlySpan<byte> value = default)
    {
        pdu[0] = (byte)opcode;
        BinaryPrimitives.WriteUInt16LittleEndian(pdu[1..], start);
        BinaryPrimitives.WriteUInt16LittleEndian(pdu[3..], end);
        if (opcode == AttOpcode.FindInformationReq)
            return 5;
        AttUuid.Write(pdu[5..], type);
        value.CopyTo(pdu[7..]);
        return 7 + value.Length;
    }
}
