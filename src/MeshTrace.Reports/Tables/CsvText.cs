using System.Buffers;

namespace MeshTrace.Reports.Tables;

/// <summary>
/// Cells of comma-separated values (RFC 4180), in UTF-8. Text that came with a file cannot do anything: spreadsheets would compute what begins like a
/// formula, so an apostrophe stands before it; terminals would obey control characters, so they are spelled as JSON spells them.
/// </summary>
public static class CsvText
{
    private static readonly SearchValues<byte> Plain = SearchValues.Create([.. Enumerable.Range(0x20, 0x5F).Select(octet => (byte)octet).Except("\",;"u8.ToArray())]);
    private static readonly SearchValues<byte> FormulaStart = SearchValues.Create("=+-@\t\r\n"u8);

    /// <summary>Writes the text as one cell, quoted where it must be. Empty text is quoted too: an unquoted empty cell is one without a value.</summary>
    public static void Write(IBufferWriter<byte> output, ReadOnlySpan<byte> utf8)
    {
        bool guarded = LooksLikeFormula(utf8);
        if (!guarded && utf8.Length > 0 && utf8[0] != ' ' && utf8[^1] != ' ' && !utf8.ContainsAnyExcept(Plain))
        {
            output.Write(utf8);
            return;
        }
        output.Write("\""u8);
        if (guarded)
            output.Write("'"u8);
        while (utf8.Length > 0)
        {
            int plain = utf8.IndexOfAnyExcept(Plain);
            if (plain < 0)
                plain = utf8.Length;
            output.Write(utf8[..plain]);
            utf8 = utf8[plain..];
            if (utf8.Length > 0)
                utf8 = utf8[WriteSpecial(output, utf8)..];
        }
        output.Write("\""u8);
    }

    /// <summary>What a spreadsheet may take for a formula, also after spaces, and with the wide signs of East Asian keyboards.</summary>
    private static bool LooksLikeFormula(ReadOnlySpan<byte> utf8)
    {
        ReadOnlySpan<byte> text = utf8.TrimStart((byte)' ');
        return text.Length > 0 && (FormulaStart.Contains(text[0])
            || text.StartsWith("\uFF1D"u8) || text.StartsWith("\uFF0B"u8) || text.StartsWith("\uFF0D"u8) || text.StartsWith("\uFF20"u8));
    }

    /// <summary>Writes what begins with an octet that is not plain, and gives the number of octets taken.</summary>
    private static int WriteSpecial(IBufferWriter<byte> output, ReadOnlySpan<byte> utf8)
    {
        switch (utf8[0])
        {
            case (byte)'"':
                output.Write("\"\""u8);
                return 1;
            case (byte)'\n':
                output.Write("\\n"u8);
                return 1;
            case (byte)'\r':
                output.Write("\\r"u8);
                return 1;
            case (byte)'\t':
                output.Write("\\t"u8);
                return 1;
            case < 0x20 or 0x7F:
                WriteCode(output, utf8[0]);
                return 1;
            case 0xC2 when utf8.Length > 1 && utf8[1] is >= 0x80 and < 0xA0:        // U+0080 to U+009F
                WriteCode(output, utf8[1]);
                return 2;
            case 0xE2 when utf8.StartsWith("\u2028"u8) || utf8.StartsWith("\u2029"u8):     // ends of lines and paragraphs
                WriteCode(output, (ushort)(0x2028 + utf8[2] - 0xA8));
                return 3;
            default:
                output.Write(utf8[..1]);
                return 1;
        }
    }

    private static void WriteCode(IBufferWriter<byte> output, ushort code)
    {
        Span<byte> text = output.GetSpan(6);
        "\\u"u8.CopyTo(text);
        code.TryFormat(text[2..], out _, "x4", System.Globalization.CultureInfo.InvariantCulture);
        output.Advance(6);
    }
}
