using System.Globalization;
using System.Text;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.Provisioning;
using MeshTrace.Protocol.Tests.Access;
using MeshTrace.Protocol.Tests.UpperTransport.Control;
using MeshTrace.Protocol.UpperTransport.Control;

namespace MeshTrace.Protocol.Tests;

/// <summary>
/// docs/coverage.md, made from the tables that the program decodes with. A message counts as decoded when a payload with fields known beforehand was read
/// without a problem, gave those fields, and was written back to the same octets, here and now.
/// </summary>
internal static class CoverageDocument
{
    internal static readonly (string Prefix, string Name)[] Specifications =
    [
        ("Mesh Protocol", "Mesh Protocol 1.1"),
        ("Mesh Model", "Mesh Model 1.1"),
        ("MBT", "Mesh Binary Large Object Transfer Model 1.0"),
        ("DFU", "Mesh Device Firmware Update Model 1.0"),
        ("Assigned Numbers", "Assigned Numbers (IEC 62386-104)"),
    ];

    public static bool IsDecoded(MessageDefinition row)
    {
        if (PlainLayoutSample.IsPlain(row.LayoutText))
        {
            (byte[] octets, string fields) = PlainLayoutSample.Make(row.LayoutText, Filling.Distinct, PlainLayoutSample.Runs(row.LayoutText), longForm: true);
            return ReadsAndWrites([.. Convert.FromHexString(row.Opcode.ToString()[2..]), .. octets], fields);
        }
        (string Payload, string Fields)[] examples = [.. SpecialRowTests.Table.Where(example => Opcode.TryRead(Convert.FromHexString(example.Payload), out Opcode opcode, out _)
            && opcode == row.Opcode)];
        return examples.Length > 0 && Array.TrueForAll(examples, example => ReadsAndWrites(Convert.FromHexString(example.Payload), example.Fields));
    }

    public static bool IsDecoded(ControlDefinition row)
    {
        (byte Opcode, string Octets, string Fields)[] examples = [.. ControlMessageTests.Table.Where(example => example.Opcode == row.Opcode)];
        return examples.Length > 0 && Array.TrueForAll(examples, example =>
        {
            DecodedControl message = ControlReader.Read(row.Opcode, Convert.FromHexString(example.Octets));
            return !message.Problem.IsProblem && FieldText.Of(message.Fields) == example.Fields && Convert.ToHexString(ControlWriter.Write(message)) == example.Octets;
        });
    }

    public static string Make()
    {
        var text = new StringBuilder();
        text.Append("""
            # What is decoded

            Made by the tests from the tables that the program decodes with (`src/MeshTrace.Protocol/Access/Catalogue/Tables`); do not edit. To make it again:
            `MESHTRACE_REGENERATE=1 dotnet test tests/MeshTrace.Protocol.Tests --filter CoverageDocument`. A message counts as decoded when the tests read a payload of
            known fields without a problem, find those fields, and write the same octets again. Where the tables of an edition were not read in the standard's
            own text, [standard-corrections.md](standard-corrections.md) says so.

            ## Access messages by specification

            | specification | messages defined | decoded and encoded | |
            | --- | ---: | ---: | ---: |

            """);
        foreach ((string prefix, string name) in Specifications)
            Row(text, name, AccessCatalogue.All.Where(row => row.Source.StartsWith(prefix, StringComparison.Ordinal)));
        Row(text, "all", AccessCatalogue.All);

        text.Append("\n## Access messages by group\n\n| group | messages defined | decoded and encoded | |\n| --- | ---: | ---: | ---: |\n");
        foreach (IGrouping<string, MessageDefinition> group in AccessCatalogue.All.GroupBy(row => row.Group).OrderBy(group => group.Key, StringComparer.Ordinal))
            Row(text, group.Key, group);

        text.Append("\n## Control messages\n\n| group | messages defined | decoded and encoded | |\n| --- | ---: | ---: | ---: |\n");
        foreach (IGrouping<string, ControlDefinition> group in ControlCatalogue.All.GroupBy(row => row.Group))
            Row(text, group.Key, group.Count(), group.Count(IsDecoded));
        Row(text, "all", ControlCatalogue.All.Count, ControlCatalogue.All.Count(IsDecoded));

        text.Append("\n## Names and units\n\n| table | entries |\n| --- | ---: |\n");
        foreach ((string table, int count) in ((string, int)[])[("SIG models", ModelCatalogue.All.Count), ("device properties, with units", DeviceProperties.All.Count),
            ("status codes", StatusCodes.All.Count), ("health faults", HealthFaults.All.Count), ("provisioning PDUs", ProvisioningCatalogue.All.Count)])
            text.Append(CultureInfo.InvariantCulture, $"| {table} | {count} |\n");
        return text.ToString();
    }

    private static void Row(StringBuilder text, string name, IEnumerable<MessageDefinition> rows)
    {
        List<MessageDefinition> all = [.. rows];
        Row(text, name, all.Count, all.Count(IsDecoded));
    }

    private static void Row(StringBuilder text, string name, int defined, int decoded) =>
        text.Append(CultureInfo.InvariantCulture, $"| {name} | {defined} | {decoded} | {100.0 * decoded / defined:0.#} % |\n");

    private static bool ReadsAndWrites(byte[] payload, string fields)
    {
        DecodedMessage message = AccessReader.Read(payload);
        return !message.Problem.IsProblem && FieldText.Of(message.Fields) == fields && AccessWriter.Write(message).AsSpan().SequenceEqual(payload);
    }
}
