using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings;

/// <summary>Floods to look at copy by copy: all of a small capture, evenly chosen ones of a large one, so that the work stays the same.</summary>
internal static class FloodSample
{
    /// <summary>Floods with managed flooding and times, in order.</summary>
    /// <param name="history">The capture.</param>
    /// <param name="most">So many at most.</param>
    public static IEnumerable<int> Of(CaptureHistory history, int most)
    {
        int step = Math.Max(1, history.Floods.Count / most);
        for (int row = 0; row < history.Floods.Count; row += step)
            if (history.Floods[row].Credentials == Credentials.Flooding && history.Floods[row].FirstTimeNs != CapturedFrame.NoTime)
                yield return row;
    }

    /// <summary>The receiver that gave most frames, and how many packets of one advertising event it may give.</summary>
    public static (int Receiver, int PacketsAnEvent) BestReceiver(CaptureHistory history)
    {
        ReceiverView best = history.ReceiverViews.Count == 0 ? default : history.ReceiverViews.MaxBy(view => view.Frames);
        return (best.Receiver, best.Plan == ChannelPlan.AllAtOnce ? 3 : 1);
    }
}
