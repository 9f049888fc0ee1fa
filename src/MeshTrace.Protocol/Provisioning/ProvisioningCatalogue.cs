using System.Buffers.Binary;
using System.Globalization;

namespace MeshTrace.Protocol.Provisioning;

/// <summary>Who sends a provisioning PDU.</summary>
public enum ProvisioningSender : byte
{
    Provisioner,
    Device,
    Both,
}

/// <summary>One field of a provisioning PDU.</summary>
/// <param name="Name">The standard's name.</param>
/// <param name="Octets">Its size, or 0 for the octets up to the end of the PDU.</param>
/// <param name="IsNumber">A number (big-endian); else octets as sent.</param>
/// <param name="Words">The value in words, null where the number or the octets say all.</param>
public sealed record ProvisioningField(string Name, int Octets, bool IsNumber, Func<byte[], string?>? Words = null);

/// <summary>A row of the catalogue: one provisioning PDU.</summary>
/// <param name="Type">Its type.</param>
/// <param name="Name">The standard's name.</param>
/// <param name="SentBy">Who sends it.</param>
/// <param name="Source">Document and section.</param>
/// <param name="Fields">Parameters in the order on the air.</param>
/// <param name="Lengths">Octets with type: the only ones possible, or the least if there is a <paramref name="Step"/>.</param>
/// <param name="Step">0, or the octets by which a PDU may be longer, any number of times.</param>
public sealed record ProvisioningPduDefinition(
    ProvisioningPduType Type, string Name, ProvisioningSender SentBy, string Source, IReadOnlyList<ProvisioningField> Fields,
    IReadOnlyList<int> Lengths, int Step = 0)
{
    /// <summary>None if a PDU of so many octets (type included) can be one of these.</summary>
    public DecodeProblem CheckLength(int octets)
    {
        if (Step != 0)
        {
            int missing = octets < Lengths[0] ? Lengths[0] - octets : (Step - (octets - Lengths[0]) % Step) % Step;
            return missing == 0 ? DecodeProblem.None : DecodeProblem.TooShort(Layer.Provisioning, octets + missing, octets);
        }
        foreach (int length in Lengths)
            if (octets <= length)
                return octets == length ? DecodeProblem.None : DecodeProblem.TooShort(Layer.Provisioning, length, octets);
        return DecodeProblem.TooLong(Layer.Provisioning, Lengths[^1], octets);
    }
}

/// <summary>The fourteen provisioning PDUs of Mesh Protocol 1.1 §5.4.1, in the order of their types.</summary>
public static class ProvisioningCatalogue
{
    public static IReadOnlyList<ProvisioningPduDefinition> All { get; } =
    [
        Row(ProvisioningPduType.Invite, "Provisioning Invite", ProvisioningSender.Provisioner, 1, [2],
            Number("Attention Duration", 1, v => Invariant($"{v} s"))),
        Row(ProvisioningPduType.Capabilities, "Provisioning Capabilities", ProvisioningSender.Device, 2, [12],
            Number("Number of Elements", 1),
            Number("Algorithms", 2, v => ProvisioningWords.OfAlgorithms((ushort)v)),
            Number("Public Key Type", 1, v => ProvisioningWords.OfPublicKeyType((byte)v)),
            Number("OOB Type", 1, v => ProvisioningWords.OfOobType((byte)v)),
            Number("Output OOB Size", 1),
            Number("Output OOB Action", 2, v => ProvisioningWords.OfOutputOobActions((ushort)v)),
            Number("Input OOB Size", 1),
            Number("Input OOB Action", 2, v => ProvisioningWords.OfInputOobActions((ushort)v))),
        Row(ProvisioningPduType.Start, "Provisioning Start", ProvisioningSender.Provisioner, 3, [6],
            Number("Algorithm", 1, v => ProvisioningWords.Of((ProvisioningAlgorithm)v)),
            Number("Public Key", 1, v => ProvisioningWords.Of((PublicKeyUse)v)),
            Number("Authentication Method", 1, v => ProvisioningWords.Of((AuthenticationMethod)v)),
            Number("Authentication Action", 1),   // its words depend on the method: ProvisioningFieldReader
            Number("Authentication Size", 1)),
        Row(ProvisioningPduType.PublicKey, "Provisioning Public Key", ProvisioningSender.Both, 4, [65],
            Octets("Public Key X", 32), Octets("Public Key Y", 32)),
        Row(ProvisioningPduType.InputComplete, "Provisioning Input Complete", ProvisioningSender.Device, 5, [1]),
        Row(ProvisioningPduType.Confirmation, "Provisioning Confirmation", ProvisioningSender.Both, 6, [17, 33], Octets("Confirmation", 0)),
        Row(ProvisioningPduType.Random, "Provisioning Random", ProvisioningSender.Both, 7, [17, 33], Octets("Random", 0)),
        Row(ProvisioningPduType.Data, "Provisioning Data", ProvisioningSender.Provisioner, 8, [34],
            Octets("Encrypted Provisioning Data", 25), Octets("Provisioning Data MIC", 8)),
        Row(ProvisioningPduType.Complete, "Provisioning Complete", ProvisioningSender.Device, 9, [1]),
        Row(ProvisioningPduType.Failed, "Provisioning Failed", ProvisioningSender.Device, 10, [2],
            Number("Error Code", 1, v => ProvisioningWords.Of((ProvisioningError)v))),
        Row(ProvisioningPduType.RecordRequest, "Provisioning Record Request", ProvisioningSender.Provisioner, 11, [7],
            Number("Record ID", 2, v => ProvisioningWords.OfRecord((ushort)v)),
            Number("Fragment Offset", 2),
            Number("Fragment Maximum Size", 2)),
        Row(ProvisioningPduType.RecordResponse, "Provisioning Record Response", ProvisioningSender.Device, 12, [8],
            Number("Status", 1, v => ProvisioningWords.Of((RecordResponseStatus)v)),
            Number("Record ID", 2, v => ProvisioningWords.OfRecord((ushort)v)),
            Number("Fragment Offset", 2),
            Number("Total Length", 2),
            Octets("Data", 0)) with { Step = 1 },
        Row(ProvisioningPduType.RecordsGet, "Provisioning Records Get", ProvisioningSender.Provisioner, 13, [1]),
        Row(ProvisioningPduType.RecordsList, "Provisioning Records List", ProvisioningSender.Device, 14, [3],
            Number("Provisioning Extensions", 2),
            new ProvisioningField("Records List", 0, IsNumber: false, WordsOfRecords)) with { Step = 2 },
    ];

    /// <summary>The row of a type, or null for a reserved one.</summary>
    public static ProvisioningPduDefinition? Find(ProvisioningPduType type) => (int)type < All.Count ? All[(int)type] : null;

    private static ProvisioningPduDefinition Row(
        ProvisioningPduType type, string name, ProvisioningSender sentBy, int section, int[] lengths, params ProvisioningField[] fields) =>
        new(type, name, sentBy, Invariant($"Mesh Protocol 1.1 §5.4.1.{section}"), fields, lengths);

    private static ProvisioningField Number(string name, int octets, Func<int, string?>? words = null) =>
        new(name, octets, IsNumber: true, words is null ? null : value => words(ReadNumber(value)));

    private static ProvisioningField Octets(string name, int octets) => new(name, octets, IsNumber: false);

    internal static int ReadNumber(ReadOnlySpan<byte> octets) =>
        octets.Length == 1 ? octets[0] : BinaryPrimitives.ReadUInt16BigEndian(octets);

    private static string WordsOfRecords(byte[] list)
    {
        var words = new List<string>();
        for (int at = 0; at + 2 <= list.Length; at += 2)
        {
            ushort id = BinaryPrimitives.ReadUInt16BigEndian(list.AsSpan(at));
            words.Add(ProvisioningWords.OfRecord(id) is { } name ? Invariant($"0x{id:X4} {name}") : Invariant($"0x{id:X4}"));
        }
        return words.Count == 0 ? "none" : string.Join(", ", words);
    }

    private static string Invariant(FormattableString text) => text.ToString(CultureInfo.InvariantCulture);
}
