namespace MeshTrace.Protocol.Provisioning;

/// <summary>Generic Provisioning Control Format: the low two bits of a Generic Provisioning PDU (Mesh Protocol 1.1 §5.3).</summary>
public enum GenericProvisioningFormat : byte
{
    TransactionStart = 0b00,
    TransactionAcknowledgment = 0b01,
    TransactionContinuation = 0b10,
    ProvisioningBearerControl = 0b11,
}

/// <summary>Bearer opcode: the high six bits of a Provisioning Bearer Control PDU (Mesh Protocol 1.1 §5.3). Other values are
/// reserved.</summary>
public enum BearerOpcode : byte
{
    LinkOpen = 0x00,
    LinkAck = 0x01,
    LinkClose = 0x02,
}

/// <summary>What the first octet of a Generic Provisioning PDU tells: a six-bit part that depends on the format, above the two bits of the
/// format.</summary>
public static class GenericProvisioning
{
    internal const int FormatBits = 2;
    internal const byte FormatMask = 0b11;

    /// <summary>The format of a PDU; there is one for every octet.</summary>
    public static GenericProvisioningFormat FormatOf(byte firstOctet) => (GenericProvisioningFormat)(firstOctet & FormatMask);

    /// <summary>The bearer opcode of a PDU whose format is Provisioning Bearer Control.</summary>
    public static BearerOpcode BearerOpcodeOf(byte firstOctet) => (BearerOpcode)(firstOctet >> FormatBits);

    /// <summary>The standard's name, for example <c>Transaction Start</c> or <c>Link Close</c>.</summary>
    public static string NameOf(byte firstOctet) => FormatOf(firstOctet) switch
    {
        GenericProvisioningFormat.TransactionStart => "Transaction Start",
        GenericProvisioningFormat.TransactionAcknowledgment => "Transaction Acknowledgment",
        GenericProvisioningFormat.TransactionContinuation => "Transaction Continuation",
        _ => BearerOpcodeOf(firstOctet) switch
        {
            BearerOpcode.LinkOpen => "Link Open",
            BearerOpcode.LinkAck => "Link ACK",
            BearerOpcode.LinkClose => "Link Close",
            _ => $"Provisioning Bearer Control, reserved opcode 0x{firstOctet >> FormatBits:X2}",
        },
    };

    internal static byte FirstOctet(int sixBits, GenericProvisioningFormat format) => (byte)((sixBits << FormatBits) | (int)format);

    internal static DecodeProblem CheckFormat(ReadOnlySpan<byte> pdu, GenericProvisioningFormat format, int shortest, int longest)
    {
        if (pdu.Length < shortest)
            return DecodeProblem.TooShort(Layer.Provisioning, shortest, pdu.Length);
        if (pdu.Length > longest)
            return DecodeProblem.TooLong(Layer.Provisioning, longest, pdu.Length);
        return FormatOf(pdu[0]) == format
            ? DecodeProblem.None
            : DecodeProblem.WrongValue(Layer.Provisioning, 0, "GPCF", pdu[0] & FormatMask);
    }

    internal static DecodeProblem CheckBearerControl(ReadOnlySpan<byte> pdu, BearerOpcode opcode, int length)
    {
        DecodeProblem problem = CheckFormat(pdu, GenericProvisioningFormat.ProvisioningBearerControl, length, length);
        return problem.IsProblem || BearerOpcodeOf(pdu[0]) == opcode
            ? problem
            : DecodeProblem.WrongValue(Layer.Provisioning, 0, "BearerOpcode", pdu[0] >> FormatBits);
    }
}
