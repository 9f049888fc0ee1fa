using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.ReceiversEye;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Address;

/// <summary>A message comes under an AppKey that the node has not, or that is not bound to the model; or a model should publish with such a key.</summary>
internal sealed class AppKeyNotBound : IFindingRule
{
    public string Id => "appkey-not-bound";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var told = new HashSet<(MeshAddress Element, int? Key)>();
        var rejected = findings.Silences.Rejected.Where(silence => silence.View is { Step: ReceiveStep.AppKey or ReceiveStep.Binding }
            && !IsOfOtherSubnet(history, silence.Press));
        foreach (var same in rejected.GroupBy(silence => (silence.Element, silence.View.AppKeyIndex, silence.View.Step)))
        {
            Silence[] silences = [.. same];
            EyeGlance view = silences[0].View;
            told.Add((view.Element, view.AppKeyIndex));
            string key = KeyName(history, view.AppKeyIndex), model = view.Model is { } instance ? findings.Words.Name(instance) : findings.Words.Name(view.Element);
            string says = view.Step == ReceiveStep.AppKey
                ? $"{findings.Words.Name(view.Node)} has not {key}, under which {FindingWords.Count(silences.Length, "press", "presses")} came to it: it cannot read them."
                : $"At {model} {key} is not bound: it ignores what comes under that key ({FindingWords.Count(silences.Length, "press", "presses")}).";
            findings.AddOver(Id, silences.Max(silence => silence.View.Confidence), history.Presses[silences[0].Press].TimeNs, view.Node, FindingWords.PressesOf(silences),
                says, FindingWords.EvidenceOf(silences));
        }
        foreach (SetupGap gap in history.Commissioning.Gaps)
            if (gap.Kind is SetupGapKind.PublisherWithoutAppKey or SetupGapKind.PublisherWithoutBinding or SetupGapKind.SubscriberOnOtherAppKey)
                TakeGap(history, findings, gap, told);
    }

    private void TakeGap(CaptureHistory history, FindingSink findings, SetupGap gap, HashSet<(MeshAddress, int?)> told)
    {
        ModelInstance bare = gap.Kind == SetupGapKind.SubscriberOnOtherAppKey ? gap.Subscriber!.Value : gap.Publisher;
        MeshAddress node = history.Directory.NodeOf(bare.Element);
        if (bare == gap.Publisher && UsesKey(history, node, gap.AppKeyIndex))
            return;         // it was heard to send under that key
        if (!told.Add((bare.Element, gap.AppKeyIndex)))
            return;
        string key = KeyName(history, gap.AppKeyIndex);
        string says = gap.Kind switch
        {
            SetupGapKind.PublisherWithoutAppKey => $"{findings.Words.Name(gap.Publisher)} should publish to {findings.Words.Name(gap.Address)} with {key}, which its node has not.",
            SetupGapKind.PublisherWithoutBinding => $"{findings.Words.Name(gap.Publisher)} should publish to {findings.Words.Name(gap.Address)} with {key}, which is not bound to it.",
            _ => $"{findings.Words.Name(bare)} subscribes to {findings.Words.Name(gap.Address)}, but {key}, with which {findings.Words.Name(gap.Publisher.Element)} publishes there, is not bound to it.",
        };
        findings.Add(Id, Weighing.Weaker(gap.Confidence, Confidence.Likely), history.TimeSpanNs?.First ?? 0, node, null, says, gap.Evidence);
    }

    /// <summary>The AppKey belongs to another NetKey than the one the press came under: that is a finding of its own.</summary>
    internal static bool IsOfOtherSubnet(CaptureHistory history, int press)
    {
        ref Transfers.MessageRow message = ref history.Messages[history.Presses[press].Messages[0]];
        return message.AppKey >= 0 && history.Keys.AppKeys[message.AppKey].BoundNetKey is { } bound && history.Keys.Subnets[message.Subnet].NetKeyIndex is { } used && bound != used;
    }

    private static bool UsesKey(CaptureHistory history, MeshAddress node, int? index)
    {
        for (int row = 0; row < history.Keys.AppKeys.Count; row++)
            if (history.Keys.AppKeys[row].AppKeyIndex == index && history.NodeTraces.UsesAppKey(node, row))
                return true;
        return false;
    }

    private static string KeyName(CaptureHistory history, int? index)
    {
        if (index is not { } known)
            return "the AppKey";
        string? name = history.Keys.AppKeys.FirstOrDefault(key => key.AppKeyIndex == known && key.Name is { Length: > 0 })?.Name;
        return name is null ? $"AppKey {known}" : $"AppKey {known} ({Description.SafeText.Strip(name)})";
    }
}
