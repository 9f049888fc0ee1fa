using System.Globalization;
using System.Text.Json;
using MeshTrace.Reports.Records;

namespace MeshTrace.Datasets;

/// <summary>What a partition was made from and with: as long as this is the same, it need not be made again.</summary>
internal sealed record CaptureStamp
{
    public required string Capture { get; init; }
    public required long Size { get; init; }
    public required DateTime Modified { get; init; }

    /// <summary>File of the network description, or null.</summary>
    public string? Network { get; init; }
    public long? NetworkSize { get; init; }
    public DateTime? NetworkModified { get; init; }
    public required string Program { get; init; }
    public required IReadOnlyList<string> Tables { get; init; }

    /// <summary>The stamp of a capture as it lies there now.</summary>
    /// <exception cref="IOException">It cannot be read.</exception>
    public static CaptureStamp Of(FoundCapture capture, string? network, IReadOnlyList<RecordKind> kinds)
    {
        var file = new FileInfo(capture.File);
        FileInfo? description = network is null ? null : new FileInfo(network);
        return new CaptureStamp
        {
            Capture = capture.Name, Size = file.Length, Modified = file.LastWriteTimeUtc,
            Network = description?.Name, NetworkSize = description?.Length, NetworkModified = description?.LastWriteTimeUtc,
            Program = ProgramVersion.Text, Tables = [.. kinds.Select(RecordKinds.NameOf)],
        };
    }

    /// <summary>True if what was made once serves now: the same capture and description, the same program, and no table missing.</summary>
    public bool Serves(CaptureStamp now) => this with { Tables = now.Tables } == now && now.Tables.All(Tables.Contains);

    public void Write(Stream output, string result)
    {
        using var json = new Utf8JsonWriter(output, new JsonWriterOptions { Indented = true, NewLine = "\n" });
        json.WriteStartObject();
        json.WriteString("capture", Capture);
        json.WriteNumber("size", Size);
        json.WriteString("modified", Text(Modified));
        json.WriteString("network", Network);
        if (NetworkSize is { } size)
            json.WriteNumber("networkSize", size);
        if (NetworkModified is { } modified)
            json.WriteString("networkModified", Text(modified));
        json.WriteString("program", Program);
        json.WriteString("result", result);
        json.WriteStartArray("tables");
        foreach (string table in Tables)
            json.WriteStringValue(table);
        json.WriteEndArray();
        json.WriteEndObject();
    }

    /// <summary>Reads a stamp back; null where it is none.</summary>
    public static CaptureStamp? Read(ReadOnlyMemory<byte> utf8, out string? result)
    {
        result = null;
        try
        {
            using JsonDocument document = JsonDocument.Parse(utf8);
            JsonElement root = document.RootElement;
            result = Member(root, "result")?.GetString();
            if (Member(root, "capture")?.GetString() is not { } capture || Member(root, "size")?.GetInt64() is not { } size || Time(Member(root, "modified")) is not { } modified
                || Member(root, "program")?.GetString() is not { } program || Member(root, "tables") is not { } tables)
                return null;
            return new CaptureStamp
            {
                Capture = capture, Size = size, Modified = modified, Program = program, Network = Member(root, "network")?.GetString(), NetworkSize = Member(root, "networkSize")?.GetInt64(),
                NetworkModified = Time(Member(root, "networkModified")), Tables = [.. tables.EnumerateArray().Select(table => table.GetString() ?? "")],
            };
        }
        catch (Exception problem) when (problem is JsonException or InvalidOperationException or FormatException)
        {
            return null;        // a stamp that cannot be read is as good as none: the capture is analysed again
        }
    }

    private static JsonElement? Member(JsonElement element, string name) =>
        element.ValueKind == JsonValueKind.Object && element.TryGetProperty(name, out JsonElement member) && member.ValueKind != JsonValueKind.Null ? member : null;

    private static string Text(DateTime time) => time.ToString("O", CultureInfo.InvariantCulture);

    private static DateTime? Time(JsonElement? text) =>
        DateTime.TryParseExact(text?.GetString(), "O", CultureInfo.InvariantCulture, DateTimeStyles.RoundtripKind, out DateTime time) ? time : null;
}
