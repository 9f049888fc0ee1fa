using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;

namespace MeshTrace.Reports.Words;

/// <summary>What deserves a look first: findings, lost presses, lamps that stay silent, transfers that did not arrive, and what the receiver may have missed.</summary>
internal static class StandOutSection
{
    private const int MostLines = 8;
    private const int MostNames = 6;

    /// <summary>Below this heard share, absence says little about a node (the same line as the finding <c>capture-too-thin</c>).</summary>
    private const double ThinHeardShare = 0.7;

    private const string Mark = "  - ";

    public static void Write(Paper paper, Account account)
    {
        var lines = new List<(string Text, Tone Tone)>();
        AddFindings(lines, account);
        AddLostPresses(lines, account);
        AddSilent(lines, account);
        AddTransfers(lines, account);
        AddThinlyHeard(lines, account);
        if (account.History.OpenedNetworkPdus == 0)
            return;     // without an opened PDU nothing can stand out; the section on networks says what to do
        paper.Heading("What stands out");
        if (lines.Count == 0)
            paper.Paragraph("Nothing: no press without answers, no transfer left incomplete.");
        foreach ((string text, Tone tone) in lines)
            paper.Paragraph(text, Mark, markTone: tone);
    }

    private static void AddFindings(List<(string, Tone)> lines, Account account)
    {
        // The same sentence about several presses is said once.
        List<(Finding First, int Times)> findings = account.History.Findings.GroupBy(finding => (finding.Id, finding.Says, finding.Remedy))
            .Select(same => (same.First(), same.Count()))
            .OrderByDescending(one => one.Item1.Severity).ThenByDescending(one => one.Item1.Confidence).ThenBy(one => one.Item1.TimeNs).ToList();
        foreach ((Finding finding, int times) in findings.Take(MostLines))
        {
            string often = times > 1 ? $" ({times} times)" : "";
            lines.Add(($"{SeverityWord(finding)}{often}: {SafeText.Strip(finding.Says, 400)} {SafeText.Strip(finding.Remedy, 400)}".TrimEnd(), finding.Severity == Severity.Fault ? Tone.Bad : Tone.Mixed));
        }
        if (findings.Count > MostLines)
            lines.Add(($"{Phrases.Count(findings.Count - MostLines, "more finding")}: see 'meshtrace records --only finding'.", Tone.Quiet));
    }

    /// <summary>How bad and how sure: "Fault (likely)".</summary>
    public static string SeverityWord(Finding finding)
    {
        string severity = finding.Severity switch { Severity.Fault => "Fault", Severity.Warning => "Warning", _ => "Remark" };
        return finding.Confidence switch
        {
            Confidence.Certain => severity,
            Confidence.Likely => severity + " (likely)",
            _ => severity + " (possible)",
        };
    }

    private static void AddLostPresses(List<(string, Tone)> lines, Account account)
    {
        List<List<Press>> lost = account.History.Presses.Where(press => press.Outcome == PressOutcome.None && press.Findings.Count == 0)
            .GroupBy(press => (press.Src, press.Dst, Why(press))).Select(same => same.ToList()).ToList();
        foreach (List<Press> same in lost.Take(MostLines))
            lines.Add((Lost(same, account), Tone.Bad));
        if (lost.Count > MostLines)
            lines.Add(($"{Phrases.Count(lost.Skip(MostLines).Sum(same => same.Count), "more press", "more presses")} without any answer, marked NONE below.", Tone.Bad));
    }

    private static string Lost(List<Press> same, Account account)
    {
        Press first = same[0];
        List<string> times = same.Select(press => $"{Phrases.Clock(press.TimeNs)} {press.Asks}").ToList();
        string asked = first.Expected switch
        {
            { Count: 0 } => "nobody listens to this address, as far as the description and the Config messages heard tell",
            { Count: > 1 } expected => $"none of {expected.Count} was heard to answer",
            _ => "no answer was heard",
        };
        return $"No answer: {account.Names.Short(first.Src)} to {account.Names.Full(first.Dst)} ({Phrases.List(times, MostNames)}): {asked}. {Why(first)}";
    }

    /// <summary>What the air tells of a press that nobody answered.</summary>
    public static string Why(Press press) =>
        press.Expected is { Count: 0 } ? "Check the subscriptions."
        : press.LastTtl <= 1 ? $"It may have run out of hops (lowest TTL heard: {press.LastTtl}): raise the TTL, or place a relay between."
        : press.HopsSeen == 0 ? "No relayed copy of it was heard."
        : $"Relayed copies were heard over {Phrases.Count(press.HopsSeen, "hop")}, so relays had it.";

    private static void AddSilent(List<(string, Tone)> lines, Account account)
    {
        if (account.History.Findings.Any(finding => finding.Id == "some-lamps-silent"))
            return;     // the finding says it better
        var asked = new SortedDictionary<MeshAddress, (int Asked, int Silent)>();
        foreach (Press press in account.History.Presses)
        {
            if (press.Outcome == PressOutcome.Unknown || press.Expected is not { } expected)
                continue;
            foreach (MeshAddress element in expected)
            {
                (int before, int silent) = asked.GetValueOrDefault(element);
                asked[element] = (before + 1, silent + (press.Answers.Exists(answer => answer.Element == element) ? 0 : 1));
            }
        }
        List<string> silentOnes = asked.Where(entry => entry.Value.Silent > 0).OrderByDescending(entry => entry.Value.Silent)
            .Select(entry => $"{account.Names.Full(entry.Key)} {entry.Value.Silent} of {entry.Value.Asked} times").ToList();
        if (silentOnes.Count > 0)
            lines.Add(($"No answer heard from: {Phrases.List(silentOnes, MostNames)}. Always the same one: look at its distance, key and subscription; a different one each time: at radio conditions and repeats.", Tone.Mixed));
    }

    private static void AddTransfers(List<(string, Tone)> lines, Account account)
    {
        int incomplete = account.History.Transfers.Count(transfer => transfer.Outcome == TransferOutcome.Incomplete);
        int cancelled = account.History.Transfers.Count(transfer => transfer.Outcome == TransferOutcome.Cancelled);
        if (incomplete > 0)
            lines.Add(($"{Phrases.Count(incomplete, "segmented message")} not heard whole: see the transfers below.", Tone.Mixed));
        if (cancelled > 0)
            lines.Add(($"{Phrases.Count(cancelled, "segmented message")} cancelled by the receiving node (block acknowledgment 0: it was busy or gave up).", Tone.Bad));
    }

    private static void AddThinlyHeard(List<(string, Tone)> lines, Account account)
    {
        List<string> thin = account.History.Nodes.Select(node => (Node: node, Share: account.ShareHeard(node))).Where(one => one.Share < ThinHeardShare)
            .OrderBy(one => one.Share).Select(one => $"{NameOf(one.Node, account)} ({Phrases.Percent(one.Share!.Value)})").ToList();
        if (thin.Count > 0)
            lines.Add(($"This receiver heard only part of what these nodes sent: {Phrases.List(thin, MostNames)}. What is 'not heard' from them may well have been sent.", Tone.Mixed));
    }

    private static string NameOf(NodeRecord node, Account account) => account.Names.Short(node.Unicast);
}
