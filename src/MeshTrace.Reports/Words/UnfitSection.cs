using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Reports.Records;

namespace MeshTrace.Reports.Words;

/// <summary>Messages whose payload does not fit: too short, too long, or with a value that cannot be. A node that gets one ignores it.</summary>
internal static class UnfitSection
{
    private const int MostLines = 8;

    public static void Write(Paper paper, Account account)
    {
        CaptureHistory history = account.History;
        var unfit = new Dictionary<(MeshAddress Src, string Name, string Says), (int Times, long FirstNs)>();
        int undefined = 0;
        var checks = new PayloadChecks(account.Vendor);
        for (int row = 0; row < history.Messages.Count; row++)
        {
            ref readonly MessageRow message = ref history.Messages[row];
            if (!message.Decrypted)
                continue;
            (DecodeProblem problem, bool defined) = checks.Of(message.IsControl, message.Opcode, history.PayloadOf(row));
            undefined += defined ? 0 : 1;
            if (!problem.IsProblem)
                continue;
            string name = MessageNames.Find(message.IsControl, message.Opcode, account.Vendor) ?? $"opcode {message.Opcode}";
            var key = (message.Src, name, Says(problem));
            unfit[key] = unfit.TryGetValue(key, out (int Times, long FirstNs) before) ? (before.Times + 1, before.FirstNs) : (1, message.TimeNs);
        }
        if (unfit.Count == 0 && undefined == 0)
            return;
        paper.Heading("Messages that do not fit their definition");
        foreach (((MeshAddress src, string name, string says), (int times, long firstNs)) in unfit.OrderByDescending(one => one.Value.Times).ThenBy(one => one.Value.FirstNs).Take(MostLines))
            paper.Paragraph($"{name} of {DisplayWidth.Isolate(account.Names.Full(src))}{(times > 1 ? $" ({Phrases.Number(times)} times)" : "")}: {says}. What could be read is in the records.", $"  {Phrases.Clock(firstNs)}  ");
        if (unfit.Count > MostLines)
            paper.Paragraph($"{Phrases.Number(unfit.Count - MostLines)} more of this kind.", tone: Tone.Quiet);
        if (undefined > 0)
            paper.Paragraph($"{Phrases.Count(undefined, "message has", "messages have")} an opcode that no published specification defines: a vendor's, or a newer edition's. --vendor-messages FILE names those of a vendor.");
    }

    /// <summary>What is wrong with a payload, in words without final stop.</summary>
    public static string Says(DecodeProblem problem)
    {
        string field = problem.Field is { } name ? $" for {name}" : "";
        return problem.Kind switch
        {
            ProblemKind.TooShort => $"too short: {problem.Had} octets, {problem.Needed} needed{field}",
            ProblemKind.TooLong => $"too long: {problem.Had} octets, at most {problem.Needed}{field}",
            _ => $"{problem.Field ?? "a field"} has a value that cannot be ({problem.Had})",
        };
    }
}
