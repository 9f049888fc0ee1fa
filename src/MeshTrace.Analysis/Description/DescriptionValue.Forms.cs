using System.Buffers;
using System.Diagnostics.CodeAnalysis;
using System.Globalization;
using System.Runtime.InteropServices;
using System.Text;
using System.Text.Json;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Description;

/// <summary>The value forms of the profile.</summary>
/// <remarks>
/// What identifies or decrypts must be right: keys, addresses, indexes, model identifiers and UUIDs are refused with their place
/// (the plain forms). What only describes is left unknown where it cannot be read, and that is noted (the <c>OrUnknown</c> forms).
/// </remarks>
internal readonly partial struct DescriptionValue
{
    private const string NotUnderstood = "not understood, left unknown";

    /// <summary>Characters of the longest form: a UUID with its dashes.</summary>
    private const int LongestForm = 36;
    private const int ShortHex = 4;

    public KeyOctets Key()
    {
        ReadOnlySpan<char> text = Text(stackalloc char[LongestForm]);
        return KeyOctets.TryParse(text, out KeyOctets? key) ? key : throw Fail(HexText.Complaint(text, "32"));
    }

    /// <summary>RFC 4122 text; older exports leave the dashes out.</summary>
    public Guid Uuid()
    {
        ReadOnlySpan<char> text = Text(stackalloc char[LongestForm]);
        if (Guid.TryParseExact(text, "D", out Guid uuid))
            return uuid;
        if (!Guid.TryParseExact(text, "N", out uuid))
        {
            string digits = text.ToString().Replace("-", "", StringComparison.Ordinal);
            throw Fail(HexText.Complaint(digits, "32") + ", in groups of 8-4-4-4-12 with dashes");
        }
        Note("UUID without dashes, read as it stands");
        return uuid;
    }

    /// <summary>4 hex digits; a leading 0x is tolerated.</summary>
    public ushort Hex16()
    {
        ReadOnlySpan<char> text = Text(stackalloc char[LongestForm]);
        return TryHex16(text, out ushort value) ? value : throw Fail(HexText.Complaint(text, "4"));
    }

    public ushort? Hex16OrUnknown()
    {
        if (TextOrUnknown() is not { } text)
            return null;
        if (TryHex16(text, out ushort value))
            return value;
        Note(NotUnderstood, "4 hex digits needed");
        return null;
    }

    /// <summary>A unicast address.</summary>
    public MeshAddress Unicast()
    {
        var address = new MeshAddress(Hex16());
        return address.IsUnicast ? address : throw Fail("no unicast address, 0001..7FFF needed");
    }

    /// <summary>Any address: 4 hex digits, or 32 of a label UUID.</summary>
    public DescribedAddress Address()
    {
        ReadOnlySpan<char> text = Text(stackalloc char[LongestForm]);
        if (TryHex16(text, out ushort value))
        {
            var address = new MeshAddress(value);
            if (address.IsVirtual)
                Note("virtual address without its label UUID: messages to it cannot be decrypted by this entry");
            return new DescribedAddress(address);
        }
        if (Guid.TryParseExact(text, "N", out Guid label))
            return Context.AddressOf(label);
        if (!Guid.TryParseExact(text, "D", out label))
            throw Fail(HexText.Complaint(text, "4 or 32"));
        Note("label UUID with dashes, read as it stands");
        return Context.AddressOf(label);
    }

    /// <summary>A group or virtual address.</summary>
    public DescribedAddress GroupOrLabel()
    {
        DescribedAddress address = Address();
        return address.Address.IsGroup || address.Address.IsVirtual
            ? address
            : throw Fail("neither a group address (C000..FFFF) nor a label UUID");
    }

    /// <summary>4 hex digits of a SIG model, or 8 with the company identifier first.</summary>
    public (ushort? CompanyId, ushort ModelId) Model()
    {
        ReadOnlySpan<char> text = Text(stackalloc char[LongestForm]);
        Span<byte> octets = stackalloc byte[4];
        if (text.Length == ShortHex && HexText.TryRead(text, octets[..2]))
            return (null, (ushort)((octets[0] << 8) | octets[1]));
        if (!HexText.TryRead(text, octets))
            throw Fail(HexText.Complaint(text, "4 or 8"));
        return ((ushort)((octets[0] << 8) | octets[1]), (ushort)((octets[2] << 8) | octets[3]));
    }

    public int KeyIndex() => WholeNumber(0, DescriptionLimits.HighestKeyIndex);

    public int WholeNumber(int low, int high)
    {
        if (Element.ValueKind != JsonValueKind.Number)
            throw WrongKind("a whole number");
        return TryWholeNumber(out long value) && value >= low && value <= high
            ? (int)value
            : throw Fail(string.Create(CultureInfo.InvariantCulture, $"a whole number {low}..{high} needed"));
    }

    public long? WholeNumberOrUnknown(long low, long high)
    {
        if (TryWholeNumber(out long value) && value >= low && value <= high)
            return value;
        Note(NotUnderstood, string.Create(CultureInfo.InvariantCulture, $"a whole number {low}..{high} needed"));
        return null;
    }

    public bool IsNumber => Element.ValueKind == JsonValueKind.Number;

    /// <summary>A 32-bit number: an IV index.</summary>
    public uint UnsignedNumber()
    {
        if (!IsNumber)
            throw WrongKind("a whole number");
        return TryWholeNumber(out long value) && value is >= 0 and <= uint.MaxValue
            ? (uint)value
            : throw Fail("a whole number 0..4294967295 needed");
    }

    public bool? FlagOrUnknown()
    {
        if (Element.ValueKind is JsonValueKind.True or JsonValueKind.False)
            return Element.ValueKind == JsonValueKind.True;
        Note(NotUnderstood, "true or false needed");
        return null;
    }

    /// <summary>RFC 3339 time with offset or Z, with or without fractions.</summary>
    public DateTimeOffset? TimeOrUnknown()
    {
        if (TextOrUnknown() is not { } text)
            return null;
        bool dated = text.Length is >= 10 and <= 64 && text[4] == '-' && text[7] == '-';   // a time without a date would be given today's
        if (dated && DateTimeOffset.TryParse(text, CultureInfo.InvariantCulture, DateTimeStyles.AssumeUniversal, out DateTimeOffset time))
            return time;
        Note(NotUnderstood, "an RFC 3339 time needed");
        return null;
    }

    /// <summary>A name or another text that only describes.</summary>
    public string? TextOrUnknown()
    {
        if (Element.ValueKind != JsonValueKind.String)
        {
            Note(NotUnderstood, $"{KindInWords} where a text is needed");
            return null;
        }
        if (TryText(out string? text))
            return text;
        Note(NotUnderstood, "not valid Unicode");
        return null;
    }

    /// <summary>The text of an address, key or UUID: put into <paramref name="buffer"/> where it is as plain as these are, or made as a string.</summary>
    private ReadOnlySpan<char> Text(Span<char> buffer)
    {
        if (Element.ValueKind != JsonValueKind.String)
            throw WrongKind("a text");
        ReadOnlySpan<byte> raw = JsonMarshal.GetRawUtf8Value(Element)[1..^1];   // without its quotation marks
        if (raw.Length <= buffer.Length && !raw.Contains((byte)'\\') && Ascii.ToUtf16(raw, buffer, out int length) == OperationStatus.Done)
            return buffer[..length];
        return TryText(out string? text) ? text : throw Fail("not valid Unicode");
    }

    private bool TryText([NotNullWhen(true)] out string? text)
    {
        try
        {
            text = Element.GetString()!;
            return true;
        }
        catch (InvalidOperationException)   // half a surrogate pair, written as \uD800: only unescaping finds it
        {
            text = null;
            return false;
        }
    }

    /// <summary>Some writers give 5.0 for 5.</summary>
    private bool TryWholeNumber(out long value)
    {
        const double Exact = 1L << 53;
        value = 0;
        if (Element.ValueKind != JsonValueKind.Number)
            return false;
        if (Element.TryGetInt64(out value))
            return true;
        if (!Element.TryGetDouble(out double number) || !double.IsInteger(number) || Math.Abs(number) > Exact)
            return false;
        value = (long)number;
        return true;
    }

    private bool TryHex16(ReadOnlySpan<char> text, out ushort value)
    {
        value = 0;
        bool prefixed = text.StartsWith("0x", StringComparison.OrdinalIgnoreCase);
        Span<byte> octets = stackalloc byte[2];
        if (!HexText.TryRead(prefixed ? text[2..] : text, octets))
            return false;
        if (prefixed)
            Note("written with 0x before the digits, read without");
        value = (ushort)((octets[0] << 8) | octets[1]);
        return true;
    }
}
