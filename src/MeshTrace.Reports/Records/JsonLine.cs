namespace MeshTrace.Reports.Records;

/// <summary>
/// Writes one JSON object a line to a stream, in the forms of docs/records.md. Holds no more than one spill's worth of octets, however long a
/// line becomes.
/// </summary>
internal sealed class JsonLine
{
    private const int SpillOctets = 1 << 16;

    private readonly int _spillOctets;
    private readonly Stream _output;
    private readonly JsonText _json = new();
    private readonly TimeText _time = new();

    public JsonLine(Stream output) => (_output, _spillOctets) = (output, SpillOctets);

    private JsonLine() => (_output, _spillOctets) = (Stream.Null, int.MaxValue);

    /// <summary>Holds all lines until they are appended to others: for short ones that are made on several cores.</summary>
    public static JsonLine Held() => new();

    /// <summary>Writes lines that were held behind those of this one, and empties them.</summary>
    public void Append(JsonLine held)
    {
        Spill();
        _output.Write(held._json.Written);
        held._json.Clear();
    }

    /// <summary>For values that have no form of their own.</summary>
    public JsonText Json => _json;

    /// <summary>Begins a line. The index is given from 0 and shown from 1.</summary>
    public void Begin(ReadOnlySpan<byte> record, int row)
    {
        _json.WriteStartObject();
        _json.WriteString("record"u8, record);
        _json.WriteNumber(record, row + 1);
    }

    public void End()
    {
        _json.WriteEndObject();
        _json.EndLine();
        if (_json.Length >= _spillOctets)
            Spill();
    }

    /// <summary>Hands over what there is of an unfinished line, where a line may grow long.</summary>
    public void SpillWhenFull()
    {
        if (_json.Length >= _spillOctets)
            Spill();
    }

    public void Flush()
    {
        Spill();
        _output.Flush();
    }

    /// <summary>ISO 8601 with nine decimals, or null where there is no time.</summary>
    public void Time(ReadOnlySpan<byte> name, long? timeNs)
    {
        if (timeNs is { } known && _time.TryFormat(known, out ReadOnlySpan<byte> text))
            _json.WriteString(name, text);
        else
            _json.WriteNull(name);
    }

    public void Number(ReadOnlySpan<byte> name, long? value)
    {
        if (value is { } known)
            _json.WriteNumber(name, known);
        else
            _json.WriteNull(name);
    }

    /// <summary>A share, a mean or a duration in milliseconds.</summary>
    public void Number(ReadOnlySpan<byte> name, double? value)
    {
        if (value is { } known && double.IsFinite(known))
            _json.WriteNumber(name, known);
        else
            _json.WriteNull(name);
    }

    public void Flag(ReadOnlySpan<byte> name, bool? value)
    {
        if (value is { } known)
            _json.WriteBoolean(name, known);
        else
            _json.WriteNull(name);
    }

    /// <summary>A word, or null; an empty one is no value either.</summary>
    public void Word(ReadOnlySpan<byte> name, string? value)
    {
        if (string.IsNullOrEmpty(value))
            _json.WriteNull(name);
        else
            _json.WriteString(name, value);
    }

    public void Word(ReadOnlySpan<byte> name, ReadOnlySpan<byte> value) => _json.WriteString(name, value);

    public void Null(ReadOnlySpan<byte> name) => _json.WriteNull(name);

    /// <summary>Octets in lower-case hexadecimal, wire order.</summary>
    public void Hex(ReadOnlySpan<byte> name, ReadOnlySpan<byte> octets)
    {
        const int OnStack = 512;    // above any access payload (380 octets): only hostile provisioning PDUs are longer
        int digits = octets.Length * 2;
        if (digits <= 2 * OnStack)
        {
            Span<byte> text = stackalloc byte[2 * OnStack];
            Convert.TryToHexStringLower(octets, text, out int written);
            _json.WriteString(name, text[..written]);
        }
        else
            _json.WriteString(name, Convert.ToHexStringLower(octets));
    }

    public void StartArray(ReadOnlySpan<byte> name) => _json.WriteStartArray(name);

    public void EndArray() => _json.WriteEndArray();

    /// <summary>Row numbers, shown from 1.</summary>
    public void Rows(ReadOnlySpan<byte> name, IReadOnlyList<int> rows)
    {
        _json.WriteStartArray(name);
        for (int i = 0; i < rows.Count; i++)
        {
            _json.WriteNumberValue(rows[i] + 1L);
            SpillWhenFull();
        }
        _json.WriteEndArray();
    }

    private void Spill()
    {
        _output.Write(_json.Written);
        _json.Clear();
    }
}
