using MeshTrace.Analysis.History;

namespace MeshTrace.Screens;

/// <summary>The first frame that shows a thing.</summary>
internal static class FirstFrame
{
    public static int? OfFlood(CaptureHistory history, int flood) => history.CopiesOf(flood) is [var copy, ..] ? copy.Frame : null;

    public static int? OfMessage(CaptureHistory history, int message) =>
        message >= 0 && history.FloodsOf(message) is [var flood, ..] ? OfFlood(history, flood) : null;
}
