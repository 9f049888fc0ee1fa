using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;

namespace MeshTrace.Analysis.Findings.Rules.Address;

/// <summary>A press goes to a group that no server model for it subscribes to.</summary>
internal sealed class NobodySubscribed : IFindingRule
{
    public string Id => "nobody-subscribed";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        for (int row = 0; row < history.Presses.Count; row++)
        {
            Press press = history.Presses[row];
            if (press.Expected is not { Count: 0 })
                continue;
            string group = history.Directory.NameOf(press.Dst) is { } name ? $"{name} ({press.Dst})" : press.Dst.ToString();
            string what = press.Dst.IsUnicast ? "no element with that address has a server model for it" : "no server model for it subscribes to that address";
            findings.Add(Id, press.Answers.Count == 0 ? Confidence.Likely : Confidence.Possible, press.TimeNs, history.Directory.NodeOf(press.Src), row,
                $"{press.Name} goes to {group}, but {what}, as far as the description and the Config messages heard tell.",
                [new Evidence("press", row), .. press.Messages.Select(message => new Evidence("message", message))]);
        }
    }
}
