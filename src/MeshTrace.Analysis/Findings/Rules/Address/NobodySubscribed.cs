using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.ReceiversEye;

namespace MeshTrace.Analysis.Findings.Rules.Address;

/// <summary>Presses go to a group or label that no server model for them subscribes to, or that one element meant to hear does not.</summary>
internal sealed class NobodySubscribed : IFindingRule
{
    public string Id => "nobody-subscribed";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var nobody = Enumerable.Range(0, history.Presses.Count).Where(row => history.Presses[row] is { Expected.Count: 0, Dst.IsUnicast: false });
        foreach (var same in nobody.GroupBy(row => (history.Presses[row].Src, history.Presses[row].Dst)))
        {
            int[] presses = [.. same.Where(row => !WasAnswered(history, row))];
            if (presses.Length == 0)
                continue;       // somebody did act: the description is out of date
            Press first = history.Presses[presses[0]];
            bool sure = history.Directory.Description is { Partial: false } && history.Configuration?.Unread.Count is null or 0;
            findings.AddOver(Id, sure ? Confidence.Likely : Confidence.Possible, first.TimeNs, history.Directory.NodeOf(first.Src), presses,
                $"{findings.Words.Name(first.Src)} sends {first.Name} to {findings.Words.Name(first.Dst)}, but no server model for it subscribes to that address, as far as {Source(history)} and the Config messages heard tell.",
                [.. presses.Select(row => new Evidence("press", row)), .. presses.SelectMany(row => history.Presses[row].Messages.Select(message => new Evidence("message", message)))]);
        }
        var deaf = findings.Silences.Rejected.Where(silence => silence.View is { Step: ReceiveStep.Address });
        foreach (var same in deaf.GroupBy(silence => (silence.Element, history.Presses[silence.Press].Dst)))
        {
            Silence[] silences = [.. same];
            findings.AddOver(Id, silences.Max(silence => silence.View.Confidence), history.Presses[silences[0].Press].TimeNs, silences[0].View.Node, FindingWords.PressesOf(silences),
                $"{findings.Words.Name(same.Key.Element)} does not subscribe to {findings.Words.Name(same.Key.Dst)} any more, as the Config messages heard tell.", FindingWords.EvidenceOf(silences));
        }
    }

    private static string Source(CaptureHistory history) =>
        history.Directory.Description?.Timestamp is { } time ? $"the description of {time.UtcDateTime:yyyy-MM-dd HH:mm} UTC" : "the description";

    /// <summary>Any Status of the fitting kind back to the sender of an acknowledged request.</summary>
    private static bool WasAnswered(CaptureHistory history, int row)
    {
        Press press = history.Presses[row];
        if (!press.Acknowledged || RequestKind.Find(press.Opcode) is not { } kind)
            return false;
        for (int message = press.Messages[0] + 1; message < history.Messages.Count && history.Messages[message].TimeNs - press.TimeNs < SilentElements.LatestAnswerNs; message++)
            if (history.Messages[message] is { Decrypted: true, IsControl: false } status && status.Opcode == kind.Status && status.Dst == press.Src)
                return true;
        return false;
    }
}
