using System.Buffers;
using System.Buffers.Text;
using System.Text;
using System.Text.Encodings.Web;
using System.Text.Unicode;

namespace MeshTrace.Reports.Records;

/// <summary>
/// JSON without spaces, written to memory. The members of records are written millions of times under names that need no escape, which is where the writer
/// of System.Text.Json spends its time: it looks at each name and word again. What may need an escape goes through its encoder all
/// the same, so the octets are equal.
/// </summary>
internal sealed class JsonText
{
    private const int FirstOctets = 1 << 12, LongestNumber = 32;

    /// <summary>Names may be of any script and are shown as they are; what a page could take for markup stays escaped.</summary>
    private static readonly JavaScriptEncoder Encoder = JavaScriptEncoder.Create(UnicodeRanges.All);

    /// <summary>ASCII that the encoder leaves as it is.</summary>
    private static readonly SearchValues<char> Plain = SearchValues.Create([.. Enumerable.Range(' ', '~' - ' ' + 1).Select(code => (char)code).Where(one => !Encoder.WillEncode(one))]);

    private byte[] _octets = new byte[FirstOctets];
    private bool _follows;      // an element stands before the next one at this level

    /// <summary>Octets written since the last <see cref="Clear"/>.</summary>
    public int Length { get; private set; }

    public ReadOnlySpan<byte> Written => _octets.AsSpan(0, Length);

    /// <summary>Forgets what was written, but not where in an object or array it ended.</summary>
    public void Clear() => Length = 0;

    /// <summary>Ends a line; the next object stands for itself.</summary>
    public void EndLine()
    {
        Raw("\n"u8);
        _follows = false;
    }

    public void WriteStartObject() => Open((byte)'{');

    public void WriteStartObject(ReadOnlySpan<byte> name)
    {
        Name(name);
        Open((byte)'{');
    }

    public void WriteStartObject(string name)
    {
        WritePropertyName(name);
        Open((byte)'{');
    }

    public void WriteEndObject() => Close((byte)'}');

    public void WriteStartArray() => Open((byte)'[');

    public void WriteStartArray(ReadOnlySpan<byte> name)
    {
        Name(name);
        Open((byte)'[');
    }

    public void WriteEndArray() => Close((byte)']');

    /// <summary>A name that may need escapes.</summary>
    public void WritePropertyName(string name)
    {
        WriteStringValue(name);
        Raw(":"u8);
        _follows = false;
    }

    /// <param name="name">A name of the contract: letters alone.</param>
    /// <param name="word">Letters, digits and signs that need no escape: a word of the contract, a number, a time.</param>
    public void WriteString(ReadOnlySpan<byte> name, ReadOnlySpan<byte> word)
    {
        Span<byte> to = Room(name.Length + word.Length + 6);
        int at = NameTo(to, name);
        to[at++] = (byte)'"';
        word.CopyTo(to[at..]);
        at += word.Length;
        to[at++] = (byte)'"';
        Length += at;
        _follows = true;
    }

    /// <param name="name">A name of the contract.</param>
    /// <param name="text">Any text.</param>
    public void WriteString(ReadOnlySpan<byte> name, string text)
    {
        Name(name);
        WriteStringValue(text);
    }

    /// <summary>Name and text may need escapes.</summary>
    public void WriteString(string name, string text)
    {
        WritePropertyName(name);
        WriteStringValue(text);
    }

    /// <param name="word">As in <see cref="WriteString(ReadOnlySpan{byte}, ReadOnlySpan{byte})"/>.</param>
    public void WriteStringValue(ReadOnlySpan<byte> word)
    {
        Separate();
        Span<byte> to = Room(word.Length + 2);
        to[0] = (byte)'"';
        word.CopyTo(to[1..]);
        to[word.Length + 1] = (byte)'"';
        Length += word.Length + 2;
    }

    /// <summary>Any text; null where there is none.</summary>
    public void WriteStringValue(string? text)
    {
        if (text is null)
        {
            WriteNullValue();
            return;
        }
        Separate();
        if (text.AsSpan().ContainsAnyExcept(Plain))
            text = Encoder.Encode(text);
        Span<byte> to = Room(Encoding.UTF8.GetMaxByteCount(text.Length) + 2);
        to[0] = (byte)'"';
        int written = Encoding.UTF8.GetBytes(text, to[1..]);
        to[written + 1] = (byte)'"';
        Length += written + 2;
    }

    public void WriteNumber(ReadOnlySpan<byte> name, long value)
    {
        Span<byte> to = Room(name.Length + 4 + LongestNumber);
        int at = NameTo(to, name);
        Utf8Formatter.TryFormat(value, to[at..], out int written);
        Length += at + written;
        _follows = true;
    }

    /// <summary>The name may need escapes.</summary>
    public void WriteNumber(string name, long value)
    {
        WritePropertyName(name);
        WriteNumberValue(value);
    }

    /// <param name="name">A name of the contract.</param>
    /// <param name="value">Finite.</param>
    public void WriteNumber(ReadOnlySpan<byte> name, double value)
    {
        Name(name);
        Separate();
        Utf8Formatter.TryFormat(value, Room(LongestNumber), out int written);
        Length += written;
    }

    public void WriteNumberValue(long value)
    {
        Separate();
        Utf8Formatter.TryFormat(value, Room(LongestNumber), out int written);
        Length += written;
    }

    public void WriteNumberValue(ulong value)
    {
        Separate();
        Utf8Formatter.TryFormat(value, Room(LongestNumber), out int written);
        Length += written;
    }

    /// <param name="value">Finite.</param>
    public void WriteNumberValue(float value)
    {
        Separate();
        Utf8Formatter.TryFormat(value, Room(LongestNumber), out int written);
        Length += written;
    }

    public void WriteBoolean(ReadOnlySpan<byte> name, bool value) => Literal(name, value ? "true"u8 : "false"u8);

    public void WriteNull(ReadOnlySpan<byte> name) => Literal(name, "null"u8);

    public void WriteNullValue()
    {
        Separate();
        Raw("null"u8);
    }

    private void Literal(ReadOnlySpan<byte> name, ReadOnlySpan<byte> literal)
    {
        Span<byte> to = Room(name.Length + literal.Length + 4);
        int at = NameTo(to, name);
        literal.CopyTo(to[at..]);
        Length += at + literal.Length;
        _follows = true;
    }

    private void Name(ReadOnlySpan<byte> name)
    {
        Length += NameTo(Room(name.Length + 4), name);
        _follows = false;
    }

    private int NameTo(Span<byte> to, ReadOnlySpan<byte> name)
    {
        int at = 0;
        if (_follows)
            to[at++] = (byte)',';
        to[at++] = (byte)'"';
        name.CopyTo(to[at..]);
        at += name.Length;
        to[at++] = (byte)'"';
        to[at++] = (byte)':';
        return at;
    }

    private void Open(byte bracket)
    {
        Separate();
        Room(1)[0] = bracket;
        Length++;
        _follows = false;
    }

    private void Close(byte bracket)
    {
        Room(1)[0] = bracket;
        Length++;
        _follows = true;
    }

    /// <summary>A comma before what is not the first; whatever is written next stands before what comes after it.</summary>
    private void Separate()
    {
        if (_follows)
            Raw(","u8);
        _follows = true;
    }

    private void Raw(ReadOnlySpan<byte> octets)
    {
        octets.CopyTo(Room(octets.Length));
        Length += octets.Length;
    }

    private Span<byte> Room(int octets)
    {
        if (_octets.Length - Length < octets)
            Array.Resize(ref _octets, Math.Max(Length + octets, _octets.Length * 2));
        return _octets.AsSpan(Length);
    }
}
