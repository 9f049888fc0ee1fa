using MeshTrace.Protocol;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.UpperTransport.Control;

namespace MeshTrace.Analysis.Redaction;

/// <summary>
/// Puts pseudonyms into access payloads and control parameters, field by field as the catalogue has them, and keeps their length: addresses, keys, labels, UUIDs.
/// What is octets or text to the standard, and vendor messages whole, become other octets, the same for the same, unless they are to be kept. A place on Earth
/// becomes none.
/// </summary>
internal sealed class PayloadRedactor(Pseudonyms pseudonyms, bool keepsOctets)
{
    private const string Location = "Generic Location";
    private const int KeyOctets = 16;

    /// <summary>Of an access message, opcode and parameters.</summary>
    public byte[] Access(ReadOnlySpan<byte> payload)
    {
        DecodedMessage message = AccessReader.Read(payload);
        if (message.Definition is not { } definition)
            return Octets(payload, keeps: message.Opcode.Value == 0 ? 0 : message.Opcode.Octets);
        return Fitted(payload, message.Opcode.Octets, () => AccessWriter.Write(definition, Map(message.Fields, definition.Group == Location)));
    }

    /// <summary>Of a control message, the octets behind the opcode.</summary>
    public byte[] Control(byte opcode, ReadOnlySpan<byte> parameters)
    {
        DecodedControl message = ControlReader.Read(opcode, parameters);
        return message.Definition is { } definition ? Fitted(parameters, 0, () => ControlWriter.Write(definition, Map(message.Fields, isLocation: false))) : Octets(parameters, keeps: 0);
    }

    /// <summary>The addresses that a message names.</summary>
    public static IEnumerable<MeshAddress> AddressesIn(IReadOnlyList<DecodedField> fields)
    {
        foreach (DecodedField field in fields)
        {
            if (field.IsAddress)
                yield return new MeshAddress((ushort)field.Number);
            foreach (MeshAddress address in AddressesIn(field.Children))
                yield return address;
        }
    }

    /// <summary>A message that is too long keeps its fields, and other octets behind them; one that cannot be written again becomes other octets.</summary>
    private byte[] Fitted(ReadOnlySpan<byte> original, int opcodeOctets, Func<byte[]> write)
    {
        byte[] written;
        try
        {
            written = write();
        }
        catch (ArgumentException)       // a field is missing: the message is too short for its definition
        {
            return Octets(original, opcodeOctets);
        }
        if (written.Length > original.Length)
            return Octets(original, opcodeOctets);
        byte[] whole = Octets(original, original.Length);
        written.CopyTo(whole, 0);
        if (!keepsOctets)
            pseudonyms.Octets(whole.AsSpan(written.Length));
        return whole;
    }

    private byte[] Octets(ReadOnlySpan<byte> original, int keeps)
    {
        byte[] octets = original.ToArray();
        if (!keepsOctets && keeps < octets.Length)
            pseudonyms.Octets(octets.AsSpan(keeps));
        return octets;
    }

    private DecodedField[] Map(IReadOnlyList<DecodedField> fields, bool isLocation)
    {
        isLocation |= fields is [{ Name: "Opcode" } inner, ..] && AccessCatalogue.Find(new Opcode((uint)inner.Number))?.Group == Location;
        var mapped = new DecodedField[fields.Count];
        for (int i = 0; i < mapped.Length; i++)
            mapped[i] = Map(fields[i], isLocation && fields[i].Name != "Opcode");
        return mapped;
    }

    private DecodedField Map(DecodedField field, bool isLocation)
    {
        switch (field.Kind)
        {
            case FieldKind.Number when field.IsAddress:
                return DecodedField.OfNumber(field.Name, pseudonyms.Addresses.Of(new MeshAddress((ushort)field.Number)).Value, field.Bits);
            case FieldKind.Number or FieldKind.Signed when isLocation:
                return DecodedField.OfNumber(field.Name, 0, field.Bits);
            case FieldKind.Octets:
                return DecodedField.OfOctets(field.Name, Map(field.Name, field.Octets.Span));
            case FieldKind.Text when !keepsOctets:
                return DecodedField.OfText(field.Name, new string('x', field.Octets.Length));
            case FieldKind.List:
                return DecodedField.OfList(field.Name, Map(field.Children, isLocation));
            case FieldKind.Group:
                return DecodedField.OfGroup(field.Name, Map(field.Children, isLocation));
            default:
                return field;
        }
    }

    private byte[] Map(string name, ReadOnlySpan<byte> octets)
    {
        if (octets.Length == KeyOctets)
        {
            switch (name)
            {
                case "NetKey" or "AppKey":
                    return pseudonyms.Key(octets);
                case "LabelUUID":
                    return pseudonyms.Addresses.Of(new Guid(octets, bigEndian: true)).ToByteArray(bigEndian: true);
                case "UUID":
                    return pseudonyms.Uuid(new Guid(octets, bigEndian: true)).ToByteArray(bigEndian: true);
            }
        }
        return Octets(octets, keeps: 0);
    }
}
