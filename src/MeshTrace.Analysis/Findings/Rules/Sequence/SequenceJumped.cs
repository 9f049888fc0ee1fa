using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Sequence;

/// <summary>A node skipped more numbers than it can have sent PDUs: mostly it was started anew and goes on at the next stored block.</summary>
internal sealed class SequenceJumped : IFindingRule
{
    public string Id => "sequence-jumped";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var jumps = new Dictionary<MeshAddress, List<(int Before, int After)>>();
        var doubted = new HashSet<MeshAddress>();
        foreach (SequenceLine line in findings.SequenceLines)
        {
            MeshAddress node = history.Directory.NodeOf(line.Src);
            if (line.StepsBack)
                doubted.Add(node);      // a line that goes back, or two lines: told elsewhere
            else if (line.Jumps.Count > 0)
            {
                if (!jumps.TryGetValue(node, out List<(int Before, int After)>? pairs))
                    jumps.Add(node, pairs = []);
                pairs.AddRange(line.Jumps);
            }
        }
        foreach ((MeshAddress node, List<(int Before, int After)> pairs) in jumps)
        {
            if (doubted.Contains(node))
                continue;
            (int before, int after) = pairs[0];
            ref FloodRow from = ref history.Floods[before];
            ref FloodRow to = ref history.Floods[after];
            string often = pairs.Count > 1 ? $", {Wording.Times(pairs.Count)} in this capture" : "";
            findings.Add(Id, Confidence.Likely, to.FirstTimeNs, node, null,
                $"{history.Called(to.Src)} jumped from sequence number {Wording.Number(from.Seq)} to {Wording.Number(to.Seq)} within "
                + $"{Wording.Span(Wording.Seconds(from.FirstTimeNs, to.FirstTimeNs))}{often}: most likely it was started anew.",
                [.. pairs.SelectMany(pair => new[] { pair.Before, pair.After }).Select(row => new Evidence("flood", row))]);
        }
    }
}
