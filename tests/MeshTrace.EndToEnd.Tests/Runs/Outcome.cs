using System.Text.Json;

namespace MeshTrace.EndToEnd.Tests.Runs;

/// <summary>What a run of the program gave.</summary>
internal sealed record Outcome(int Code, string Output, string Error)
{
    /// <summary>All lines of <see cref="Output"/> as JSON objects.</summary>
    public List<JsonElement> Records() => [.. Output.Split('\n', StringSplitOptions.RemoveEmptyEntries).Select(line => JsonSerializer.Deserialize<JsonElement>(line))];

    /// <summary>The records of one kind.</summary>
    public List<JsonElement> Records(string kind) => [.. Records().Where(record => record.GetProperty("record").GetString() == kind)];

    /// <summary>Checks the exit code, and shows what was said where it is another.</summary>
    public Outcome Ended(int code)
    {
        Assert.True(Code == code, $"exit code {Code}, expected {code}; standard error: {Error}");
        Assert.DoesNotContain("   at MeshTrace", Error, StringComparison.Ordinal);
        return this;
    }
}
