namespace MeshTrace.Protocol.Provisioning;

/// <summary>A field of a provisioning PDU with its value, to be shown.</summary>
/// <param name="Field">Row of the catalogue.</param>
/// <param name="Octets">The value as sent.</param>
/// <param name="Number">The value of a number, else null.</param>
/// <param name="Reads">The value in words, or null where the number or the octets say all.</param>
public sealed record ProvisioningFieldValue(ProvisioningField Field, byte[] Octets, int? Number, string? Reads)
{
    public string Name => Field.Name;
}

/// <summary>Turns a provisioning PDU into named fields and back, by the rows of <see cref="ProvisioningCatalogue"/>.</summary>
public static class ProvisioningFieldReader
{
    private const int AuthenticationMethodField = 2, AuthenticationActionField = 3;

    /// <summary>The fields in the order on the air.</summary>
    public static IReadOnlyList<ProvisioningFieldValue> Read(ProvisioningPdu pdu)
    {
        ReadOnlySpan<byte> rest = pdu.Parameters;
        var values = new List<ProvisioningFieldValue>(pdu.Definition.Fields.Count);
        foreach (ProvisioningField field in pdu.Definition.Fields)
        {
            byte[] octets = rest[..(field.Octets == 0 ? rest.Length : field.Octets)].ToArray();
            rest = rest[octets.Length..];
            string? reads = field.Words?.Invoke(octets);
            if (pdu.Type == ProvisioningPduType.Start && values.Count == AuthenticationActionField)
                reads = WordsOfAction((AuthenticationMethod)pdu.Parameters[AuthenticationMethodField], octets[0]);
            values.Add(new ProvisioningFieldValue(field, octets, field.IsNumber ? ProvisioningCatalogue.ReadNumber(octets) : null, reads));
        }
        return values;
    }

    /// <summary>Puts the fields together again and returns the octets written.</summary>
    public static int Write(Span<byte> destination, ProvisioningPduType type, IReadOnlyList<ProvisioningFieldValue> values)
    {
        destination[0] = (byte)type;
        int at = ProvisioningPdu.HeaderLength;
        foreach (ProvisioningFieldValue value in values)
        {
            value.Octets.CopyTo(destination[at..]);
            at += value.Octets.Length;
        }
        return at;
    }

    /// <summary>Authentication Action is an output or an input action, or has no meaning, as the method tells.</summary>
    private static string? WordsOfAction(AuthenticationMethod method, byte action) => method switch
    {
        AuthenticationMethod.OutputOob => ProvisioningWords.Of((OutputOobAction)action),
        AuthenticationMethod.InputOob => ProvisioningWords.Of((InputOobAction)action),
        _ => null,
    };
}
