using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Address;

/// <summary>A device joined and was not set up, or the description says that its set-up was cut off.</summary>
internal sealed class SetupUnfinished : IFindingRule
{
    /// <summary>After so long without a Config message nobody is about to go on (ours).</summary>
    private const long QuietNs = 60_000_000_000;

    public string Id => "setup-unfinished";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var told = new HashSet<MeshAddress>();
        long end = history.TimeSpanNs?.Last ?? long.MinValue;
        foreach (NodeStory story in history.Commissioning.Devices)
        {
            if (story is not { Node: { } node } || IsInUse(history, node) || history.Configuration!.Unread.ContainsKey(node))
                continue;
            if (story.JoinedBy is not { } link)
            {
                TakeKeyWithoutBinding(history, findings, story, node, told, end);
                continue;
            }
            // The Composition Data come in many segments, of which one missed hides all; and whoever set the rest up knew them.
            string[] missing = story.AppKeyAdded && story.KeyBound ? [] : [.. Missing(story)];
            long last = Math.Max(history.Provisionings[link].EndNs, story.LastConfigurationNs ?? long.MinValue);
            if (missing.Length == 0 || end - last < QuietNs)
                continue;
            // The messages of the set-up come from whoever provisions: one missed of each step is what silence would have to hide.
            MeshAddress heard = ClientOf(history, story) ?? node;
            Confidence? confidence = missing.Length == 3 ? Confidence.Possible : findings.Weighing.Judge(Id, heard, missing.Length * 2, history.Provisionings[link].EndNs, end);
            if (confidence is not { } sure || !told.Add(node))
                continue;
            string heardSteps = missing.Length == 3 ? "no configuration of it was heard since (it may have been done over a connection that was not)" : $"{FindingWords.List(missing)} {(missing.Length == 1 ? "was" : "were")} not heard";
            findings.Add(Id, sure, last, node, null, $"{findings.Words.Name(node)} joined the network, but {heardSteps} within {FindingWords.Number((end - last) / 1e9)} s after the last message of its set-up.",
                [new Evidence("provisioning", link), .. story.Events.Where(one => one.Record == "message").Select(one => new Evidence("message", one.Row))]);
        }
        foreach (DescribedNode node in history.Directory.Description?.Nodes ?? [])
            if (node is { ConfigComplete: false, Excluded: false } && !IsInUse(history, node.Unicast) && told.Add(node.Unicast))
                findings.Add(Id, Confidence.Possible, history.TimeSpanNs?.First ?? 0, node.Unicast, null,
                    $"By the description the set-up of {findings.Words.Name(node.Unicast)} was not completed, and no message under an AppKey was heard of it.", []);
    }

    /// <summary>Its provisioning was not heard, but an AppKey was given to it and bound to nothing, by all that is known of it.</summary>
    private void TakeKeyWithoutBinding(CaptureHistory history, FindingSink findings, NodeStory story, MeshAddress node, HashSet<MeshAddress> told, long end)
    {
        if (!story.AppKeyAdded || story.KeyBound || story.LastConfigurationNs is not { } last || end - last < QuietNs || history.Directory.Description is not { Partial: false })
            return;
        NodeState state = history.NodeModels!.Of(node).At(long.MaxValue);
        if (state.ConfiguredModels.ToArray().Any(model => state.BindingsOf(model).Members.Any()) || findings.Weighing.Judge(Id, ClientOf(history, story) ?? node, 2, last, end) is not { } confidence || !told.Add(node))
            return;
        findings.Add(Id, confidence, last, node, null,
            $"{findings.Words.Name(node)} was given an AppKey, but no binding of it to a model was heard within {FindingWords.Number((end - last) / 1e9)} s after the last message of its set-up, and the description has none.",
            [.. story.Events.Where(one => one.Record == "message").Select(one => new Evidence("message", one.Row))]);
    }

    private static IEnumerable<string> Missing(NodeStory story)
    {
        if (!story.CompositionTold)
            yield return "its Composition Data";
        if (!story.AppKeyAdded)
            yield return "an AppKey for it";
        if (!story.KeyBound)
            yield return "the binding of an AppKey to a model";
    }

    /// <summary>It sends under an AppKey: whoever set it up did so.</summary>
    private static bool IsInUse(CaptureHistory history, MeshAddress node) =>
        Enumerable.Range(0, history.Keys.AppKeys.Count).Any(key => history.NodeTraces.UsesAppKey(node, key));

    private static MeshAddress? ClientOf(CaptureHistory history, NodeStory story)
    {
        foreach (LifecycleEvent one in story.Events)
            if (one.Record == "message" && history.Messages[one.Row] is var message && story.Node is { } node)
                return history.Directory.NodeOf(history.Directory.NodeOf(message.Src) == node ? message.Dst : message.Src);
        return null;
    }
}
