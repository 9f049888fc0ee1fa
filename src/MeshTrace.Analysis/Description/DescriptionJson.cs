using System.Text;
using System.Text.Json;
using System.Text.Unicode;

namespace MeshTrace.Analysis.Description;

/// <summary>From the octets of a file to JSON, with line and column of what is malformed in it.</summary>
/// <remarks>The parser's own messages are not used: they can repeat the text that they stumbled over, and that may be a key.</remarks>
internal static class DescriptionJson
{
    private static readonly JsonDocumentOptions s_options = new() { MaxDepth = DescriptionLimits.Depth };

    public static JsonDocument Parse(ReadOnlyMemory<byte> file, DescriptionContext context)
    {
        ReadOnlyMemory<byte> utf8 = ToUtf8(file, context);
        if (utf8.Span.IndexOfAnyExcept(" \t\r\n"u8) < 0)
            throw new NetworkDescriptionException(context.File, "$", "the file is empty");
        if (!Utf8.IsValid(utf8.Span))
            throw At(context, utf8.Span, FirstInvalidOctet(utf8.Span), "not valid UTF-8");
        try
        {
            return JsonDocument.Parse(utf8, s_options);
        }
        catch (JsonException malformed)
        {
            int offset = OffsetOf(utf8.Span, malformed.LineNumber ?? 0, malformed.BytePositionInLine ?? 0);
            bool ended = utf8.Span[Math.Min(offset, utf8.Length)..].IndexOfAnyExcept(" \t\r\n"u8) < 0;
            throw At(context, utf8.Span, offset, ended
                ? "malformed JSON: the file ends before the JSON does"
                : $"malformed JSON, or values nested deeper than {DescriptionLimits.Depth}");
        }
    }

    private static ReadOnlyMemory<byte> ToUtf8(ReadOnlyMemory<byte> file, DescriptionContext context)
    {
        ReadOnlySpan<byte> octets = file.Span;
        if (octets.StartsWith("\uFEFF"u8))
            return file[3..];
        Encoding? utf16 = octets.StartsWith((ReadOnlySpan<byte>)[0xFF, 0xFE]) ? Encoding.Unicode
            : octets.StartsWith((ReadOnlySpan<byte>)[0xFE, 0xFF]) ? Encoding.BigEndianUnicode
            : null;
        if (utf16 is null)
            return file;
        context.Repairs.Add(() => "$", "$", "the file is UTF-16, read as such");
        return Encoding.UTF8.GetBytes(utf16.GetString(octets[2..]));
    }

    private static int FirstInvalidOctet(ReadOnlySpan<byte> utf8)
    {
        int at = 0;
        while (Rune.DecodeFromUtf8(utf8[at..], out _, out int consumed) == System.Buffers.OperationStatus.Done)
            at += consumed;
        return at;
    }

    private static int OffsetOf(ReadOnlySpan<byte> utf8, long line, long octetInLine)
    {
        int start = 0;
        for (; line > 0; line--)
            start += utf8[start..].IndexOf((byte)'\n') + 1;
        return (int)Math.Min(start + octetInLine, utf8.Length);
    }

    private static NetworkDescriptionException At(DescriptionContext context, ReadOnlySpan<byte> utf8, int offset, string says)
    {
        ReadOnlySpan<byte> before = utf8[..offset];
        ReadOnlySpan<byte> line = before[(before.LastIndexOf((byte)'\n') + 1)..];
        int column = 1;
        foreach (byte octet in line)
            column += (octet & 0xC0) == 0x80 ? 0 : 1;   // continuation octets belong to the character before them
        return new NetworkDescriptionException(context.File, before.Count((byte)'\n') + 1L, column, says);
    }
}
