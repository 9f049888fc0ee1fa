using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings.Rules.Address;

/// <summary>Messages go out in one subnet under an AppKey that is bound to the NetKey of another.</summary>
internal sealed class AppKeyOfOtherSubnet : IFindingRule
{
    public string Id => "appkey-of-other-subnet";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        KeyRing keys = history.Keys;
        if (keys.Subnets.Select(subnet => subnet.NetKeyIndex).Distinct().Count() < 2)
            return;
        var wrong = new Dictionary<(MeshAddress Src, int AppKey, int Subnet), List<int>>();
        for (int row = 0; row < history.Messages.Count; row++)
        {
            ref MessageRow message = ref history.Messages[row];
            if (message.AppKey < 0 || keys.AppKeys[message.AppKey].BoundNetKey is not { } bound || keys.Subnets[message.Subnet].NetKeyIndex is not { } used || bound == used)
                continue;
            var key = (message.Src, message.AppKey, message.Subnet);
            if (!wrong.TryGetValue(key, out List<int>? rows))
                wrong.Add(key, rows = []);
            rows.Add(row);
        }
        if (wrong.Count == 0)
            return;
        var pressOf = new Dictionary<int, int>();
        for (int press = 0; press < history.Presses.Count; press++)
            foreach (int message in history.Presses[press].Messages)
                pressOf[message] = press;
        foreach (((MeshAddress src, int appKey, int subnet), List<int> rows) in wrong)
        {
            int[] presses = [.. rows.Where(pressOf.ContainsKey).Select(row => pressOf[row]).Distinct().Order()];
            findings.AddOver(Id, Confidence.Likely, history.Messages[rows[0]].TimeNs, history.Directory.NodeOf(src), presses,
                $"{findings.Words.Name(src)} sends under AppKey {keys.AppKeys[appKey].AppKeyIndex} in the subnet of NetKey {keys.Subnets[subnet].NetKeyIndex} ({FindingWords.Count(rows.Count, "message")}), but that AppKey is bound to NetKey {keys.AppKeys[appKey].BoundNetKey}: nodes do not take it.",
                [.. rows.Select(row => new Evidence("message", row))], explained: Meant(history, presses));
        }
    }

    private static MeshAddress[] Meant(CaptureHistory history, int[] presses) =>
        [.. presses.SelectMany(press => history.Presses[press].Expected ?? []).Select(history.Directory.NodeOf).Distinct()];
}
