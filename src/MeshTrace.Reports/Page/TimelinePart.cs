using MeshTrace.Reports.Page.Charts;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Page;

/// <summary>The timeline with what its marks mean.</summary>
internal static class TimelinePart
{
    public static void Write(PageDraft draft)
    {
        if (draft.History.TimeSpanNs is not { } span)
        {
            draft.Says("This capture tells no times.");
            return;
        }
        var lanes = TimelineLanes.Of(draft.Account, span, draft.Stop);
        if (lanes.Nodes.Count == 0)
        {
            draft.Says("No node was heard whose messages could be opened.");
            return;
        }
        TimelineChart.Write(draft, lanes);
        draft.LeftOut(lanes.NodesLeftOut, "nodes", "those that pressed, then those that sent most, are shown");
        if (lanes.IsMerged)
            draft.SaysQuietly($"Presses that lie within {Phrases.Duration(lanes.MergedMs)} of each other on one lane share a mark, which shows the worst of them.");
        draft.SaysQuietly("On a lane: upper strokes are what the node sent, lower ones what it relayed for others. The band on top is hatched while no receiver listened. The presses stand in the table above.");
    }
}
