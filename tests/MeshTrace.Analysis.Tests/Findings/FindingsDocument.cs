using System.Text;
using MeshTrace.Analysis.Findings;

namespace MeshTrace.Analysis.Tests.Findings;

/// <summary>docs/findings.md, made from the catalogue that the program finds with.</summary>
internal static class FindingsDocument
{
    public const string Regenerate = "MESHTRACE_REGENERATE";

    public static string PathOf => Path.Combine(Repository(), "docs", "findings.md");

    public static string Make()
    {
        var text = new StringBuilder($"""
            # What is found

            Made by the tests from the tables that the program finds with (`src/MeshTrace.Analysis/Findings/Catalogue`); do not edit. To make it again:
            `{Regenerate}=1 dotnet test tests/MeshTrace.Analysis.Tests --filter FindingsDocument`.

            {FindingCatalogue.All.Count} findings: {Counted(Severity.Fault, "fault")}, {Counted(Severity.Warning, "warning")}, {Counted(Severity.Remark, "remark")}. `meshtrace explain` tells them in sentences, `meshtrace records --only finding` as
            data. Thresholds are ours where no source is named, and stand in the sentence where they decide.

            **How sure.** `certain` is for contradictions in authenticated data and for what the capture itself shows. A finding that rests on something *not* heard is `likely` only where
            the chance that it was on the air and merely missed is under 5 %, `possible` under 30 %, and else not raised: `capture-too-thin` stands in its place. The chance comes from the
            lower end of the interval of the node's heard share, and is 1 where the receivers were deaf. Sequence numbers that run on without a gap prove that nothing was sent.
            A request without acknowledgment to lamps that publish nothing leaves no trace of success, so it is no finding; a lamp that is asked for the state it has already
            publishes nothing either. One cause that cost several presses is told once, with all of them.


            """);
        foreach (FindingArea area in FindingCatalogue.Areas)
        {
            text.Append($"## {area.Title}\n\n");
            if (area.Rows.Count == 0)
                text.Append("No finding yet.\n\n");
            foreach (FindingDefinition row in area.Rows)
            {
                text.Append($"### `{row.Id}`: {row.Severity.ToString().ToLowerInvariant()}\n");
                text.Append($"*\"{row.Asked}\"*\n\n");
                text.Append($"- **Rule:** {row.Rule}.\n");
                if (row.Limits is { } limits)
                    text.Append($"- **How sure:** {limits}.\n");
                text.Append($"- **Remedy:** {row.Remedy}\n");
                text.Append($"- **Source:** {row.Source}.\n\n");
            }
        }
        return text.ToString().ReplaceLineEndings("\n").TrimEnd('\n') + "\n";
    }

    public static string Repository()
    {
        string? folder = AppContext.BaseDirectory;
        while (folder is not null && !File.Exists(Path.Combine(folder, "MeshTrace.sln")))
            folder = Path.GetDirectoryName(folder);
        return folder ?? throw new DirectoryNotFoundException("MeshTrace.sln is above the tests");
    }

    private static string Counted(Severity severity, string word) => FindingCatalogue.All.Count(row => row.Severity == severity) is var count && count == 1 ? $"1 {word}" : $"{count} {word}s";
}
