using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;
using MeshTrace.Reports.Words;
using MeshTrace.Screens.Reading;

namespace MeshTrace.Screens;

/// <summary>A press in words: its line, and the account of it with its findings.</summary>
internal static class PressWords
{
    public static PressLine LineOf(Account account, Press press) => new(press.TimeNs, account.Names.Short(press.Src), account.Names.Short(press.Dst), press.Asks,
        press.Outcome, press.HopsSeen == 0 ? "direct" : Phrases.Count(press.HopsSeen, "hop"), PressSection.DetailOf(press, account, int.MaxValue));

    public static IReadOnlyList<TextLine> AccountOf(Account account, int row, int columns)
    {
        Press press = account.History.Presses[row];
        var lines = new Lines(columns);
        string often = press.Messages.Count > 1 ? $", sent {press.Messages.Count} times" : "";
        string wants = press.Acknowledged ? "" : ", wants no answer";
        lines.Say($"{Moment.Milli(press.TimeNs)}  {account.Names.Full(press.Src)} asked {account.Names.Full(press.Dst)} for \"{press.Asks}\" ({press.Name}, TID {press.Tid}{often}{wants}).",
            tone: Tone.Strong);
        lines.Say(PressSection.Meaning(press.Outcome) + ".", $"{PressSection.MarkOf(press.Outcome),-5}", markTone: PressSection.ToneOf(press.Outcome));
        foreach (int at in press.Findings)
            Say(lines, account.History.Findings[at]);
        SayAnswers(lines, account, row, press);
        return lines.All;
    }

    /// <summary>A finding with how sure it is, and what to do.</summary>
    public static void Say(Lines lines, Finding finding)
    {
        lines.Say($"{FindingWords.Severity(finding)}: {FindingWords.Says(finding)}", "  - ", markTone: FindingWords.ToneOf(finding));
        if (FindingWords.Remedy(finding) is { Length: > 0 } remedy)
            lines.Say(remedy, "    What to do: ", markTone: Tone.Quiet);
    }

    private static void SayAnswers(Lines lines, Account account, int row, Press press)
    {
        IReadOnlyList<MeshAddress> asked = press.Expected ?? [.. press.Answers.Select(answer => answer.Element).Distinct()];
        if (press.Expected is null && asked.Count == 0)
            lines.Say("Who should act is not known: no description tells who subscribes to it.", tone: Tone.Quiet);
        foreach (MeshAddress element in asked)
        {
            int at = press.Answers.FindIndex(answer => answer.Element == element);
            if (at >= 0)
                lines.Add(new Cell("  answered  ", Tone.Good), new Cell($"{DisplayWidth.Isolate(account.Names.Full(element))} {Moment.After(press.TimeNs, press.Answers[at].TimeNs)}"));
            else
                lines.Say($"{DisplayWidth.Isolate(account.Names.Full(element))}: {EyeWords.Of(account.History, row, element)}", "  silent    ", markTone: Tone.Mixed);
        }
    }
}
