using System.Globalization;
using System.Text;
using MeshTrace.Analysis.Findings;

namespace MeshTrace.Benchmarks.Accuracy;

/// <summary>The generated part of docs/accuracy.md.</summary>
internal static class AccuracyDocument
{
    public const string Begin = "<!-- generated: begin -->", End = "<!-- generated: end -->";

    public static string Write(AccuracyRun run, string figures)
    {
        var text = new StringBuilder();
        text.AppendLine(CultureInfo.InvariantCulture,
            $"Made on {DateTime.UtcNow:yyyy-MM-dd} with `dotnet run -c Release --project tests/MeshTrace.Benchmarks -- accuracy --networks {run.Networks} --seed {run.Seed} --write`.");
        text.AppendLine(CultureInfo.InvariantCulture, $"{run.Networks} networks a finding, {run.Twins} healthy networks in all; share of their PDUs heard: {string.Join(", ", run.TwinsByBand.Select((twins, band) => $"{Tally.BandNames[band]}: {twins}"))}.");
        text.AppendLine().AppendLine("### Findings").AppendLine();
        text.AppendLine("| finding | found | missed | withheld | found of those with evidence | by share of PDUs heard: under 40, 40-60, 60-80, 80-100 % | wrongly raised, healthy | wrongly raised, other faults |");
        text.AppendLine("| --- | ---: | ---: | ---: | ---: | --- | ---: | ---: |");
        int found = 0, missed = 0, withheld = 0;
        foreach (string id in FindingCatalogue.All.Select(row => row.Id).Union(run.Tallies.Keys))
        {
            Tally tally = run.Tallies.GetValueOrDefault(id) ?? new Tally(id);
            bool tried = FaultCases.All.Any(one => one.Id == id);
            int right = tally.Count(Verdict.Found), wrong = tally.Count(Verdict.Missed), silent = tally.Count(Verdict.Withheld);
            (found, missed, withheld) = (found + right, missed + wrong, withheld + silent);
            text.AppendLine(tried
                ? string.Create(CultureInfo.InvariantCulture, $"| `{id}` | {right} | {wrong} | {silent} | {Share(right, right + wrong)} | {Band(tally, 0)}, {Band(tally, 1)}, {Band(tally, 2)}, {Band(tally, 3)} | {tally.WrongOnHealthy} | {tally.Wrong - tally.WrongOnHealthy} |")
                : string.Create(CultureInfo.InvariantCulture, $"| `{id}` | - | - | - | no case drawn | | {tally.WrongOnHealthy} | {tally.Wrong - tally.WrongOnHealthy} |"));
        }
        text.AppendLine(CultureInfo.InvariantCulture,
            $"| all | {found} | {missed} | {withheld} | {Share(found, found + missed)} | | {run.Tallies.Values.Sum(tally => tally.WrongOnHealthy)} | {run.Tallies.Values.Sum(tally => tally.Wrong - tally.WrongOnHealthy)} |");
        text.AppendLine().AppendLine("| finding | the network has | evidence |").AppendLine("| --- | --- | --- |");
        foreach (FaultCase one in FaultCases.All)
            text.AppendLine(CultureInfo.InvariantCulture, $"| `{one.Id}` | {Words(one.Needs)} | {one.EvidenceIs} |");
        HopMeasure hops = run.Hops;
        text.AppendLine().AppendLine("### Transmitters, delays, repeats").AppendLine();
        text.AppendLine("| measured on the healthy networks | right | not known | wrong |").AppendLine("| --- | ---: | ---: | ---: |");
        text.AppendLine(Copies("copies, transmitter named, stable addresses", hops.Stable)).AppendLine(Copies("copies, transmitter named, changing addresses", hops.Changing));
        text.Append(Recovery("40 % or more of the packets heard", hops.Well)).Append(Recovery("less", hops.Poorly));
        text.AppendLine().Append(figures);
        return text.ToString().ReplaceLineEndings("\n").TrimEnd() + "\n";
    }

    /// <summary>Puts the generated part between its markers.</summary>
    public static void Put(string generated)
    {
        string path = Path.Combine(Root(), "docs", "accuracy.md");
        string page = File.ReadAllText(path);
        int begin = page.IndexOf(Begin, StringComparison.Ordinal) + Begin.Length, end = page.IndexOf(End, StringComparison.Ordinal);
        File.WriteAllText(path, page[..begin] + "\n" + generated + page[end..]);
    }

    private static string Root()
    {
        string? folder = AppContext.BaseDirectory;
        while (folder is not null && !File.Exists(Path.Combine(folder, "MeshTrace.sln")))
            folder = Path.GetDirectoryName(folder);
        return folder ?? throw new DirectoryNotFoundException("MeshTrace.sln is above the program");
    }

    private static string Recovery(string where, RecoveryCount count) => string.Create(CultureInfo.InvariantCulture, $"""
        | relays, median delay within the middle nine tenths of the true delays; {where} | {Share(count.DelaysWithin, count.Delays)} of {count.Delays} | {count.DelaysUnknown} | {Share(count.Delays - count.DelaysWithin, count.Delays)} |
        | nodes, interval of Network Transmit; {where} | {Share(count.IntervalsRight, count.Intervals)} of {count.Intervals} | {count.Counts - count.Intervals} | {Share(count.Intervals - count.IntervalsRight, count.Intervals)} |
        | nodes, transmissions of Network Transmit; {where} | {Share(count.CountsRight, count.Counts)} of {count.Counts} | {count.Counts - count.CountsRight - count.CountsHigh} told as fewer, "at least" | {count.CountsHigh} too high |

        """);

    private static string Words(Needs needs)
    {
        var words = new List<string>();
        if (needs.HasFlag(Needs.Crowd))
            words.Add("ten lamps or more in the group");
        if (needs.HasFlag(Needs.Far))
            words.Add("four rooms that hear only their neighbours");
        if (needs.HasFlag(Needs.GroupAnswers))
            words.Add("acknowledged presses to the group");
        if (needs.HasFlag(Needs.Joining))
            words.Add("a lamp that is set up");
        if (needs.HasFlag(Needs.Friendship))
            words.Add("a battery panel with a Friend");
        if (needs.HasFlag(Needs.Provisioning))
            words.Add("a device that is provisioned");
        if (needs.HasFlag(Needs.IvUpdate))
            words.Add("an IV update");
        if (needs.HasFlag(Needs.KeyRefresh))
            words.Add("a key refresh");
        if (needs.HasFlag(Needs.Phone))
            words.Add("a phone at a proxy");
        return words.Count == 0 ? "anything" : string.Join(", ", words);
    }

    private static string Band(Tally tally, int band)
    {
        int found = tally.Count(Verdict.Found, band);
        return Share(found, found + tally.Count(Verdict.Missed, band));
    }

    private static string Copies(string what, CopyCount count) => string.Create(CultureInfo.InvariantCulture,
        $"| {what} | {Share(count.Right, count.All)} of {count.All} | {Share(count.Unknown, count.All)} | {count.Wrong} ({Share(count.Wrong, count.All)}) |");

    private static string Share(long part, long of) => of == 0 ? "-" : string.Create(CultureInfo.InvariantCulture, $"{100.0 * part / of:0.#} %");
}
