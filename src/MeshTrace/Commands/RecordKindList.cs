using MeshTrace.Analysis.Description;
using MeshTrace.Reports.Records;

namespace MeshTrace.Commands;

/// <summary>Record kinds as they are typed: <c>--only press,finding</c>.</summary>
internal static class RecordKindList
{
    /// <summary>The kinds named, each once.</summary>
    /// <exception cref="UserErrorException">There is no such kind.</exception>
    public static List<RecordKind> Read(IReadOnlyList<string> asked)
    {
        var kinds = new List<RecordKind>();
        foreach (string name in asked.SelectMany(list => list.Split(',', StringSplitOptions.TrimEntries | StringSplitOptions.RemoveEmptyEntries)))
        {
            if (!RecordKinds.TryParse(name, out RecordKind kind))
            {
                throw new UserErrorException(ExitCode.Usage, $"--only: there is no record kind '{SafeText.Strip(name)}'",
                    $"The kinds are {string.Join(", ", RecordKinds.All.Select(RecordKinds.NameOf))}.");
            }
            if (!kinds.Contains(kind))
                kinds.Add(kind);
        }
        return kinds;
    }
}
