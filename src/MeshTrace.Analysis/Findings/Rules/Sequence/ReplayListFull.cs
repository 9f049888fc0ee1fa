using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.ReceiversEye;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Sequence;

/// <summary>A node hears as many sources as its replay protection list holds, and none that came later. Indirect, so never more than possible.</summary>
internal sealed class ReplayListFull : IFindingRule
{
    /// <summary>Presses that stayed without an answer (ours).</summary>
    private const int EnoughPresses = 2;

    public string Id => "replay-list-full";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        if (history.NodeModels is not { } models)
            return;
        var full = new AddressMap<bool>();
        var ignored = new SortedDictionary<ushort, List<(int Press, MeshAddress Src)>>();
        for (int row = 0; row < history.Presses.Count; row++)
        {
            Press press = history.Presses[row];
            IReadOnlyList<MeshAddress> expected = press.Expected ?? [];
            for (int at = 0; at < expected.Count; at++)
            {
                MeshAddress element = expected[at], node = history.Directory.NodeOf(element);
                if (!full.TryGetValue(node, out bool isFull))
                    full.TryAdd(node, isFull = models.Of(node).At(long.MaxValue).ReplayListSize is { IsKnown: true, Value: > 0 } size
                        && history.ReceptionProofs.SourcesBefore(node, long.MaxValue) >= size.Value);
                if (!isFull || history.ReceiversEye(row, element) is not { Verdict: EyeVerdict.Rejected, Step: ReceiveStep.ReplayListSpace })
                    continue;
                if (!ignored.TryGetValue(node.Value, out List<(int Press, MeshAddress Src)>? presses))
                    ignored.Add(node.Value, presses = []);
                if (presses.Count == 0 || presses[^1].Press != row)
                    presses.Add((row, press.Src));
            }
        }
        foreach ((ushort address, List<(int Press, MeshAddress Src)> presses) in ignored)
            if (presses.Count >= EnoughPresses)
                Tell(history, findings, new MeshAddress(address), presses);
    }

    private void Tell(CaptureHistory history, FindingSink findings, MeshAddress node, List<(int Press, MeshAddress Src)> presses)
    {
        int size = history.NodeModels!.Of(node).At(long.MaxValue).ReplayListSize.Value;
        string sources = string.Join(", ", presses.Select(one => one.Src).Distinct().Take(3).Select(history.Called));
        findings.AddOver(Id, Confidence.Possible, history.Presses[presses[0].Press].TimeNs, node, [.. presses.Select(one => one.Press)],
            $"{history.Called(node)} has room for {FindingWords.Count(size, "source")} in its replay protection list, had received from as many, and answered none of {presses.Count} presses from {sources}, which came later.",
            [.. presses.Select(one => new Evidence("press", one.Press))]);
    }
}
