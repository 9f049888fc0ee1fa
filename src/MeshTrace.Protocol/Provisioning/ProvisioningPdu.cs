namespace MeshTrace.Protocol.Provisioning;

/// <summary>Any provisioning PDU (Mesh Protocol 1.1 §5.4.1): its type, and parameters whose length fits the type.</summary>
/// <remarks>Type(8) | Parameters; big-endian.</remarks>
public readonly ref struct ProvisioningPdu
{
    public const int HeaderLength = 1;
    private readonly ReadOnlySpan<byte> _pdu;

    private ProvisioningPdu(ReadOnlySpan<byte> pdu) => _pdu = pdu;

    public ProvisioningPduType Type => (ProvisioningPduType)_pdu[0];

    public ReadOnlySpan<byte> Parameters => _pdu[HeaderLength..];

    /// <summary>Row of this type in the catalogue.</summary>
    public ProvisioningPduDefinition Definition => ProvisioningCatalogue.All[_pdu[0]];

    /// <summary>Every check is here; once it has returned true, no property can fail. Values of fields are not judged: reserved ones are
    /// shown.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out ProvisioningPdu pdu, out DecodeProblem problem)
    {
        pdu = default;
        problem = DecodeProblem.None;
        if (octets.IsEmpty)
            problem = DecodeProblem.TooShort(Layer.Provisioning, HeaderLength, 0, nameof(Type));
        else if (ProvisioningCatalogue.Find((ProvisioningPduType)octets[0]) is not { } definition)
            problem = DecodeProblem.WrongValue(Layer.Provisioning, 0, nameof(Type), octets[0]);
        else
            problem = definition.CheckLength(octets.Length);
        if (!problem.IsProblem)
            pdu = new ProvisioningPdu(octets);
        return !problem.IsProblem;
    }

    /// <summary>Writes a PDU and returns the octets written. Those without parameters (Input Complete, Complete, Records Get) need nothing
    /// else.</summary>
    public static int Write(Span<byte> destination, ProvisioningPduType type, ReadOnlySpan<byte> parameters = default)
    {
        destination[0] = (byte)type;
        parameters.CopyTo(destination[HeaderLength..]);
        return HeaderLength + parameters.Length;
    }

    /// <summary>The check of a view of one type.</summary>
    internal static bool TryRead(ReadOnlySpan<byte> octets, ProvisioningPduType type, out DecodeProblem problem)
    {
        if (TryRead(octets, out ProvisioningPdu pdu, out problem) && pdu.Type != type)
            problem = DecodeProblem.WrongValue(Layer.Provisioning, 0, nameof(Type), octets[0]);
        return !problem.IsProblem;
    }
}
