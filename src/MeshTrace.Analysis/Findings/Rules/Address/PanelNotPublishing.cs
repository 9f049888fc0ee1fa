using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Notes;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access.Catalogue;

namespace MeshTrace.Analysis.Findings.Rules.Address;

/// <summary>
/// A node that is a panel by its models publishes nowhere, and was not heard to send one message under an AppKey. A phone's or gateway's client models
/// publish nowhere and rightly so: those are left out, unless somebody noted a press there.
/// </summary>
internal sealed class PanelNotPublishing : IFindingRule
{
    /// <summary>Below it stand the foundation models.</summary>
    private const ushort FirstModelOfLighting = 0x1000;

    public string Id => "panel-not-publishing";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var nowhere = history.Commissioning.Gaps.Where(gap => gap.Kind == SetupGapKind.PublishesNowhere);
        foreach (var panel in nowhere.GroupBy(gap => history.Directory.NodeOf(gap.Publisher.Element)))
        {
            NodeState state = history.NodeModels!.Of(panel.Key).At(long.MaxValue);
            SetupGap[] gaps = [.. panel];
            if (SendsUnderAppKey(history, panel.Key) || state.Publications.Any(one => IsClient(one.Model)))
                continue;       // another of its buttons is set up, or it sends on its own
            int[] notes = [.. Enumerable.Range(0, history.Notes.Notes.Count)
                .Where(row => history.Notes.Notes[row] is { Outcome: NoteOutcome.NothingHeard } note && note.Node == panel.Key)];
            if (notes.Length == 0 && !IsPanelOnly(history, state))
                continue;
            Confidence confidence = notes.Length > 0 ? Weighing.Weaker(gaps.Max(gap => gap.Confidence), Confidence.Likely) : Confidence.Possible;
            string noted = notes.Length == 0 ? "" : notes.Length == 1 ? "; a press was noted there" : $"; {notes.Length} presses were noted there";
            findings.Add(Id, confidence, notes.Length > 0 ? history.Notes.Notes[notes[0]].TimeNs ?? 0 : history.TimeSpanNs?.First ?? 0, panel.Key, null,
                $"{findings.Words.Name(gaps[0].Publisher)} has no publish address, and not one message under an AppKey was heard of it: its presses go nowhere{noted}.",
                [.. gaps.SelectMany(gap => gap.Evidence).Distinct(), .. notes.Select(row => new Evidence("note", row))]);
        }
    }

    private static bool SendsUnderAppKey(CaptureHistory history, MeshAddress node) =>
        Enumerable.Range(0, history.Keys.AppKeys.Count).Any(key => history.NodeTraces.UsesAppKey(node, key));

    /// <summary>Clients alone, with a key bound, on a node that neither a phone speaks through nor a provisioner is.</summary>
    private static bool IsPanelOnly(CaptureHistory history, NodeState state)
    {
        DescribedNode? described = history.Directory.Description?.NodeAt(state.Unicast);
        if (state.Proxy is { IsKnown: true, Value: FeatureState.Enabled } || described?.Uuid is { } uuid && history.Directory.Description!.Provisioners.Any(one => one.Uuid == uuid))
            return false;
        ModelInstance[] lighting = [.. state.Models.Members.Where(model => model.Model is { Company: not null } or { Number: >= FirstModelOfLighting })];
        return lighting.Length > 0 && lighting.All(IsClient) && lighting.Any(model => state.BindingsOf(model).Members.Any());
    }

    private static bool IsClient(ModelInstance model) => model.Model.Company is null && ModelCatalogue.Find(model.Model.Number)?.IsClient == true;
}
