using System.Globalization;
using MeshTrace.Protocol.Access.Layouts;

namespace MeshTrace.Protocol.Access.Catalogue;

/// <summary>
/// Vendor messages that the user describes in a plain-text file (docs/vendor-messages.md): a message a line, its columns apart by a tab or by two
/// spaces or more: opcode, name, layout, and the opcode of the answer where there is one.
/// </summary>
public sealed class VendorCatalogue
{
    private const int MostMessages = 100_000;   // a company has 64 opcodes; a file beyond this is none of ours

    private readonly Dictionary<uint, MessageDefinition> _byOpcode = [];
    private readonly List<MessageDefinition> _all = [];

    private VendorCatalogue()
    {
    }

    /// <summary>In the order of the file.</summary>
    public IReadOnlyList<MessageDefinition> All => _all;

    public MessageDefinition? Find(Opcode opcode) => _byOpcode.GetValueOrDefault(opcode.Value);

    /// <summary>Reads a table.</summary>
    /// <param name="text">The file's text.</param>
    /// <param name="fileName">For messages.</param>
    /// <exception cref="VendorCatalogueException">A line is no message: the exception says which and why.</exception>
    public static VendorCatalogue Read(string text, string fileName)
    {
        ArgumentNullException.ThrowIfNull(text);
        var catalogue = new VendorCatalogue();
        int number = 0;
        foreach (ReadOnlySpan<char> line in text.AsSpan().EnumerateLines())
        {
            number++;
            ReadOnlySpan<char> content = line.Trim();
            if (content.IsEmpty || content[0] == '#')
                continue;
            MessageDefinition message = Parse(Columns(content.ToString()), number, fileName);
            if (catalogue._all.Count == MostMessages)
                throw new VendorCatalogueException(fileName, number, $"more than {MostMessages} messages");
            if (!catalogue._byOpcode.TryAdd(message.Opcode.Value, message))
                throw new VendorCatalogueException(fileName, number, $"opcode {message.Opcode} is in the table already");
            catalogue._all.Add(message);
        }
        return catalogue;
    }

    private static MessageDefinition Parse(string[] columns, int line, string fileName)
    {
        if (columns.Length is < 3 or > 4)
        {
            throw new VendorCatalogueException(fileName, line,
                "expected opcode, name and layout (and the opcode of the answer, if any), apart by a tab or two spaces");
        }
        Opcode opcode = ParseOpcode(columns[0], line, fileName);
        var message = new MessageDefinition(opcode, columns[1], columns[2])
        {
            Response = columns.Length == 4 ? ParseOpcode(columns[3], line, fileName) : null,
            HasTid = columns[2].Contains("TID:8", StringComparison.Ordinal),
            Source = fileName,
        };
        try
        {
            _ = message.Layout;
        }
        catch (LayoutFormatException wrong)
        {
            throw new VendorCatalogueException(fileName, line, wrong.Message);
        }
        return message;
    }

    private static Opcode ParseOpcode(string text, int line, string fileName)
    {
        bool isHex = text.StartsWith("0x", StringComparison.OrdinalIgnoreCase) && text.Length == 8;
        uint value = 0;
        isHex = isHex && uint.TryParse(text.AsSpan(2), NumberStyles.AllowHexSpecifier, CultureInfo.InvariantCulture, out value);
        if (!isHex || value < 0xC00000)
        {
            throw new VendorCatalogueException(fileName, line,
                $"'{text}' is no vendor opcode: expected its three octets as on the air, from 0xC00000 to 0xFFFFFF");
        }
        return new Opcode(value);
    }

    private static string[] Columns(string line) =>
        line.Replace("\t", "  ", StringComparison.Ordinal).Split("  ", StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);
}
