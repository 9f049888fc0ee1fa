using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Presses;

namespace MeshTrace.Reports.Words;

/// <summary>
/// What deserves a look first: the findings, by the presses they cost, by the node they are about, and those about network and capture; then the lost
/// presses for which no cause can be told.
/// </summary>
internal static class StandOutSection
{
    private const int MostGroups = 12, MostInGroup = 6, MostTimes = 6, MostUncaused = 8;
    private const string Within = "    ";

    /// <summary>Below this heard share, absence says little about a node (the same line as the finding <c>capture-too-thin</c>).</summary>
    private const double ThinHeardShare = 0.7;

    public static void Write(Paper paper, Account account)
    {
        if (account.History.OpenedNetworkPdus == 0 && account.History.Findings.Count == 0)
            return;     // without an opened PDU nothing can stand out; the section on networks says what to do
        paper.Heading("What stands out");
        IReadOnlyList<Finding> findings = account.History.Findings;
        List<int> uncaused = [.. Enumerable.Range(0, account.History.Presses.Count)
            .Where(row => IsLost(account.History.Presses[row]) && !account.History.Presses[row].Findings.Exists(at => findings[at].Severity >= Severity.Warning))];
        if (findings.Count == 0 && uncaused.Count == 0)
            paper.Paragraph("Nothing: no press without answers, no finding.");
        WriteGroups(paper, account, findings.Where(finding => finding.Press is not null).GroupBy(finding => Route(account, finding)), "presses");
        WriteUncaused(paper, account, uncaused);
        WriteGroups(paper, account, findings.Where(finding => finding is { Press: null, Node: not null }).GroupBy(finding => DisplayWidth.Isolate(account.Names.Full(finding.Node!.Value))), "nodes");
        WriteGroups(paper, account, findings.Where(finding => finding is { Press: null, Node: null }).GroupBy(_ => "The network and the capture"), "");
        WriteThinlyHeard(paper, account);
        if (findings.Count > 0)
            paper.Paragraph("Each kind of finding is explained in docs/findings.md under its name; 'meshtrace records --only finding' gives all with their evidence.", tone: Tone.Quiet);
    }

    /// <summary>From which element to which address: presses that share it usually share their cause.</summary>
    private static string Route(Account account, Finding finding)
    {
        Press press = account.History.Presses[finding.Press!.Value];
        return $"{DisplayWidth.Isolate(account.Names.Short(press.Src))} > {DisplayWidth.Isolate(account.Names.Full(press.Dst))}";
    }

    private static void WriteGroups(Paper paper, Account account, IEnumerable<IGrouping<string, Finding>> groups, string what)
    {
        List<IGrouping<string, Finding>> ordered = [.. groups.OrderByDescending(group => group.Max(Weight)).ThenBy(group => group.Min(finding => finding.TimeNs))];
        foreach (IGrouping<string, Finding> group in ordered.Take(MostGroups))
        {
            paper.Line(new Cell("  " + DisplayWidth.Cut(group.Key, paper.Columns - 2), Tone.Strong));
            // The same sentence at several times is said once.
            List<List<Finding>> alike = [.. group.GroupBy(finding => (finding.Id, finding.Says)).Select(same => same.ToList()).OrderByDescending(same => Weight(same[0])).ThenBy(same => same[0].TimeNs)];
            foreach (List<Finding> same in alike.Take(MostInGroup))
                WriteOne(paper, account, same);
            if (alike.Count > MostInGroup)
                paper.Paragraph($"{Phrases.Count(alike.Count - MostInGroup, "more finding")} about it.", Within, Tone.Quiet);
        }
        if (ordered.Count > MostGroups)
            paper.Paragraph($"{Phrases.Number(ordered.Count - MostGroups)} more {what} with findings.", tone: Tone.Quiet);
    }

    private static int Weight(Finding finding) => ((int)finding.Severity * 4) + (int)finding.Confidence;

    private static void WriteOne(Paper paper, Account account, List<Finding> same)
    {
        Finding finding = same[0];
        string times = Times(account, same);
        paper.Paragraph($"{FindingWords.Severity(finding)}, {finding.Id}{times}: {FindingWords.Says(finding)}", "  - ", markTone: FindingWords.ToneOf(finding));
        if (FindingWords.Remedy(finding) is { Length: > 0 } remedy)
            paper.Paragraph("What to do: " + remedy, Within);
        if (FindingWords.Evidence(finding) is { Length: > 0 } evidence)
            paper.Paragraph("It rests on " + evidence + ".", Within, Tone.Quiet);
    }

    private static string Times(Account account, List<Finding> same)
    {
        List<int> presses = [.. same.SelectMany(finding => finding.Presses).Distinct().Order()];
        if (presses.Count == 0)
            return same.Count > 1 ? $" ({Phrases.Number(same.Count)} times)" : "";
        List<string> times = [.. presses.Select(row => $"{Phrases.Clock(account.History.Presses[row].TimeNs)} {account.History.Presses[row].Asks}")];
        return $" ({Phrases.List(times, MostTimes)})";
    }

    /// <summary>What "not heard" is worth here, unless a finding says it already.</summary>
    private static void WriteThinlyHeard(Paper paper, Account account)
    {
        if (account.History.Findings.Any(finding => finding.Id == "capture-too-thin"))
            return;
        List<string> thin = [.. account.History.Nodes.Select(node => (Node: node, Share: account.ShareHeard(node))).Where(one => one.Share < ThinHeardShare).OrderBy(one => one.Share)
            .Select(one => $"{account.Names.Short(one.Node.Unicast)} ({Phrases.Percent(one.Share!.Value)})")];
        if (thin.Count > 0)
            paper.Paragraph($"This receiver heard only part of what these nodes sent: {Phrases.List(thin, MostTimes)}. What is 'not heard' from them may well have been sent.", "  ! ", markTone: Tone.Mixed);
    }

    private static bool IsLost(Press press) => press.Outcome is PressOutcome.None or PressOutcome.Some;

    private static void WriteUncaused(Paper paper, Account account, List<int> presses)
    {
        if (presses.Count == 0)
            return;
        paper.Line(new Cell("  Not answered by all, and no finding explains it", Tone.Strong));
        foreach (int row in presses.Take(MostUncaused))
        {
            Press press = account.History.Presses[row];
            paper.Paragraph($"{Phrases.Clock(press.TimeNs)}  {DisplayWidth.Isolate(account.Names.Short(press.Src))} > {DisplayWidth.Isolate(account.Names.Full(press.Dst))}, {press.Asks}: {Silent(account, press, row)}", "  - ", markTone: PressSection.ToneOf(press.Outcome));
        }
        if (presses.Count > MostUncaused)
            paper.Paragraph($"{Phrases.Count(presses.Count - MostUncaused, "more press", "more presses")}: marked NONE or PART below.", Within, Tone.Quiet);
    }

    /// <summary>What the receiver's eye says of those that stayed silent; those of which it says the same are named together.</summary>
    private static string Silent(Account account, Press press, int row)
    {
        IEnumerable<string> parts = PressSection.SilentOf(press).GroupBy(element => EyeWords.Of(account.History, row, element))
            .Select(same => (Elements: same.ToArray(), One: same.Key))
            .Select(same => $"{Phrases.List([.. same.Elements.Select(account.Names.Short)], MostTimes)}: {(same.Elements.Length == 1 ? same.One : EyeWords.Of(account.History, row, same.Elements[0], several: true))}");
        string words = string.Join("; ", parts);
        return words.Length > 0 ? words + "." : "no answer was heard.";
    }
}
