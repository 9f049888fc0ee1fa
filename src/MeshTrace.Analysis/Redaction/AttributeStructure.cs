using System.Buffers.Binary;
using MeshTrace.Protocol.Att;

namespace MeshTrace.Analysis.Redaction;

/// <summary>What of the Attribute Protocol tells where something is, and not what: handles and 16-bit UUIDs stay, values and makers' own UUIDs become zeros.</summary>
internal static class AttributeStructure
{
    private const int HandleOctets = 2, ShortUuidOctets = 2;

    /// <summary>GATT declaration of a characteristic (assigned numbers).</summary>
    private const ushort CharacteristicDeclaration = 0x2803;

    /// <summary>True for a Read By Type Request for characteristics: the answer tells handles and UUIDs, any other one values.</summary>
    public static bool AsksForCharacteristics(in AttPdu pdu) =>
        pdu.Opcode == AttOpcode.ReadByTypeReq && pdu.Parameters.Length == (2 * HandleOctets) + ShortUuidOctets
        && BinaryPrimitives.ReadUInt16LittleEndian(pdu.Parameters[(2 * HandleOctets)..]) == CharacteristicDeclaration;

    /// <summary>Puts zeros in the place of what does not stay.</summary>
    /// <param name="pdu">A PDU that is no write, notification or indication.</param>
    /// <param name="asked">The client's last request was for characteristics.</param>
    /// <param name="octets">The same PDU, to be written.</param>
    public static void Keep(in AttPdu pdu, bool asked, Span<byte> octets)
    {
        const int range = 1 + (2 * HandleOctets);
        switch (pdu.Opcode)
        {
            case AttOpcode.ErrorRsp or AttOpcode.ExchangeMtuReq or AttOpcode.ExchangeMtuRsp or AttOpcode.FindInformationReq or AttOpcode.FindByTypeValueRsp or AttOpcode.ReadReq
                or AttOpcode.ReadBlobReq or AttOpcode.ReadMultipleReq or AttOpcode.WriteRsp or AttOpcode.ExecuteWriteReq or AttOpcode.ExecuteWriteRsp or AttOpcode.HandleValueCfm:
                break;
            case AttOpcode.ReadByTypeReq or AttOpcode.ReadByGroupTypeReq:
                if (octets.Length > range + ShortUuidOctets)
                    octets[range..].Clear();
                break;
            case AttOpcode.FindByTypeValueReq:
                if (octets.Length > range + (2 * ShortUuidOctets))
                    octets[(range + ShortUuidOctets)..].Clear();
                break;
            case AttOpcode.FindInformationRsp when octets.Length > 1:
                KeepEntries(octets[2..], octets[1] == 1 ? HandleOctets + ShortUuidOctets : HandleOctets + 16, octets[1] == 1 ? HandleOctets + ShortUuidOctets : HandleOctets);
                break;
            case AttOpcode.ReadByGroupTypeRsp when octets.Length > 1:
                KeepEntries(octets[2..], octets[1], octets[1] <= (2 * HandleOctets) + ShortUuidOctets ? octets[1] : 2 * HandleOctets);
                break;
            case AttOpcode.ReadByTypeRsp when octets.Length > 1:
                const int declaration = HandleOctets + 1 + HandleOctets;        // its own handle, properties, the value's handle; then the UUID
                KeepEntries(octets[2..], octets[1], !asked ? HandleOctets : octets[1] <= declaration + ShortUuidOctets ? octets[1] : declaration);
                break;
            default:
                octets[1..].Clear();
                break;
        }
    }

    private static void KeepEntries(Span<byte> entries, int length, int kept)
    {
        if (length == 0)
        {
            entries.Clear();
            return;
        }
        while (!entries.IsEmpty)
        {
            int end = Math.Min(length, entries.Length);
            if (kept < end)
                entries[kept..end].Clear();
            entries = entries[end..];
        }
    }
}
