using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.ReceiversEye;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Address;

/// <summary>A request goes to an element that has no server model for it.</summary>
internal sealed class ModelNotOnElement : IFindingRule
{
    public string Id => "model-not-on-element";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var wrong = new Dictionary<(MeshAddress Element, string Name), List<int>>();
        for (int row = 0; row < history.Presses.Count; row++)
            if (history.Presses[row] is { Expected.Count: 0, Dst.IsUnicast: true } press && history.Directory.Description?.NodeAt(press.Dst) is not null)
                Take(wrong, row, press.Dst, press.Name);
        foreach (Silence silence in findings.Silences.Rejected)
            if (silence.View.Step == ReceiveStep.Model)
                Take(wrong, silence.Press, silence.Element, history.Presses[silence.Press].Name);
        foreach (((MeshAddress element, string name), List<int> presses) in wrong)
        {
            MeshAddress node = history.Directory.NodeOf(element);
            bool sure = history.Configuration?.Unread.ContainsKey(node) != true && history.Directory.Description is { Partial: false };
            findings.AddOver(Id, sure ? Confidence.Likely : Confidence.Possible, history.Presses[presses[0]].TimeNs, node, presses,
                $"{name} goes to {findings.Words.Name(element)}, and that element has no server model for it{Elsewhere(history, findings, node, presses[0])}.",
                [.. presses.Select(row => new Evidence("press", row))]);
        }
    }

    private static void Take(Dictionary<(MeshAddress, string), List<int>> wrong, int row, MeshAddress element, string name)
    {
        if (!wrong.TryGetValue((element, name), out List<int>? presses))
            wrong.Add((element, name), presses = []);
        presses.Add(row);
    }

    private static string Elsewhere(CaptureHistory history, FindingSink findings, MeshAddress node, int row)
    {
        IReadOnlyList<ushort> servers = Protocol.Access.Catalogue.AccessCatalogue.Find(history.Presses[row].Opcode)?.ServerModels ?? [];
        foreach (DescribedElement element in history.Directory.Description?.NodeAt(node)?.Elements ?? [])
            if (servers.Any(server => element.FindModel(server) is not null))
                return $"; {findings.Words.Name(element.Address)} of the same node has one";
        return "";
    }
}
