using System.Buffers.Binary;

namespace MeshTrace.Protocol.Att;

/// <summary>Any PDU of the Attribute Protocol (Bluetooth Core Specification, volume 3 part F §3.3; section numbers from memory).</summary>
/// <remarks>Opcode(8) | parameters; little-endian. The opcode alone tells which side sent it: requests and commands the client, the others the server.</remarks>
public readonly ref struct AttPdu
{
    /// <summary>ATT_MTU before it is exchanged, and the least there is.</summary>
    public const int DefaultMtu = 23;

    /// <summary>Longest value of an attribute.</summary>
    public const int LongestValue = 512;

    /// <summary>Authentication signature behind the value of a signed write.</summary>
    private const int SignatureLength = 12;

    private readonly ReadOnlySpan<byte> _pdu;

    private AttPdu(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    /// <summary>May be a value that the specification has not assigned.</summary>
    public AttOpcode Opcode => (AttOpcode)_pdu[0];

    public ReadOnlySpan<byte> Parameters => _pdu[1..];

    /// <summary>True for what only a client sends, false for what only a server sends, null for an unassigned opcode.</summary>
    public bool? IsFromClient => Opcode switch
    {
        AttOpcode.ExchangeMtuReq or AttOpcode.FindInformationReq or AttOpcode.FindByTypeValueReq or AttOpcode.ReadByTypeReq or AttOpcode.ReadReq
            or AttOpcode.ReadBlobReq or AttOpcode.ReadMultipleReq or AttOpcode.ReadByGroupTypeReq or AttOpcode.WriteReq or AttOpcode.PrepareWriteReq
            or AttOpcode.ExecuteWriteReq or AttOpcode.HandleValueCfm or AttOpcode.ReadMultipleVariableReq or AttOpcode.WriteCmd or AttOpcode.SignedWriteCmd => true,
        >= AttOpcode.ErrorRsp and <= AttOpcode.MultipleHandleValueNtf when ((byte)Opcode & 1) != 0 => false,
        _ => null,
    };

    /// <summary>Client or server Rx MTU of an MTU exchange, else 0.</summary>
    public ushort Mtu => Opcode is AttOpcode.ExchangeMtuReq or AttOpcode.ExchangeMtuRsp ? BinaryPrimitives.ReadUInt16LittleEndian(_pdu[1..]) : (ushort)0;

    /// <summary>True for the PDUs that hand over the value of one attribute: <see cref="Handle"/> and <see cref="Value"/>.</summary>
    public bool CarriesValue => Opcode is AttOpcode.WriteReq or AttOpcode.WriteCmd or AttOpcode.SignedWriteCmd or AttOpcode.HandleValueNtf or AttOpcode.HandleValueInd;

    /// <summary>Attribute handle of a PDU with a value and of Prepare Write, else 0.</summary>
    public ushort Handle => CarriesValue || IsPrepareWrite ? BinaryPrimitives.ReadUInt16LittleEndian(_pdu[1..]) : (ushort)0;

    /// <summary>The value of a PDU that carries one; the part of it of Prepare Write; else empty.</summary>
    public ReadOnlySpan<byte> Value =>
        IsPrepareWrite ? _pdu[5..] : !CarriesValue ? default : Opcode == AttOpcode.SignedWriteCmd ? _pdu[3..^SignatureLength] : _pdu[3..];

    /// <summary>Of Prepare Write: where in the value this part belongs.</summary>
    public ushort Offset => IsPrepareWrite ? BinaryPrimitives.ReadUInt16LittleEndian(_pdu[3..]) : (ushort)0;

    /// <summary>Of Execute Write Request: true to write what was prepared, false to drop it.</summary>
    public bool Executes => Opcode == AttOpcode.ExecuteWriteReq && _pdu[1] == 1;

    /// <summary>Of Error Response: the request that failed.</summary>
    public AttOpcode FailedRequest => Opcode == AttOpcode.ErrorRsp ? (AttOpcode)_pdu[1] : 0;

    private bool IsPrepareWrite => Opcode is AttOpcode.PrepareWriteReq or AttOpcode.PrepareWriteRsp;

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out AttPdu pdu, out DecodeProblem problem)
    {
        pdu = default;
        problem = DecodeProblem.None;
        int least = octets.IsEmpty ? 1 : LeastLength((AttOpcode)octets[0]);
        if (octets.Length < least)
            problem = DecodeProblem.TooShort(Layer.Attribute, least, octets.Length);
        else
            pdu = new AttPdu(octets);
        return !problem.IsProblem;
    }

    /// <summary>Writes a PDU of opcode and parameters and returns its length.</summary>
    public static int Write(Span<byte> pdu, AttOpcode opcode, ReadOnlySpan<byte> parameters)
    {
        pdu[0] = (byte)opcode;
        parameters.CopyTo(pdu[1..]);
        return 1 + parameters.Length;
    }

    /// <summary>Writes a request or response of the MTU exchange and returns its length.</summary>
    public static int WriteMtu(Span<byte> pdu, AttOpcode opcode, ushort mtu)
    {
        pdu[0] = (byte)opcode;
        BinaryPrimitives.WriteUInt16LittleEndian(pdu[1..], mtu);
        return 3;
    }

    /// <summary>Writes a write or notification (not a signed one) and returns its length.</summary>
    public static int WriteValue(Span<byte> pdu, AttOpcode opcode, ushort handle, ReadOnlySpan<byte> value)
    {
        pdu[0] = (byte)opcode;
        BinaryPrimitives.WriteUInt16LittleEndian(pdu[1..], handle);
        value.CopyTo(pdu[3..]);
        return 3 + value.Length;
    }

    /// <summary>Writes a Prepare Write Request or Response and returns its length.</summary>
    public static int WritePrepare(Span<byte> pdu, AttOpcode opcode, ushort handle, ushort offset, ReadOnlySpan<byte> part)
    {
        pdu[0] = (byte)opcode;
        BinaryPrimitives.WriteUInt16LittleEndian(pdu[1..], handle);
        BinaryPrimitives.WriteUInt16LittleEndian(pdu[3..], offset);
        part.CopyTo(pdu[5..]);
        return 5 + part.Length;
    }

    private static int LeastLength(AttOpcode opcode) => opcode switch
    {
        AttOpcode.ErrorRsp => 5,
        AttOpcode.ExchangeMtuReq or AttOpcode.ExchangeMtuRsp => 3,
        AttOpcode.WriteReq or AttOpcode.WriteCmd or AttOpcode.HandleValueNtf or AttOpcode.HandleValueInd => 3,
        AttOpcode.SignedWriteCmd => 3 + SignatureLength,
        AttOpcode.PrepareWriteReq or AttOpcode.PrepareWriteRsp => 5,
        AttOpcode.ExecuteWriteReq => 2,
        _ => 1,
    };
}
