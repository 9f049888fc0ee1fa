using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Screens.Octets;

namespace MeshTrace.Screens.Reading;

/// <summary>
/// Goes once through all screens before anybody sees them, so that the first key to each does not wait for its code to be compiled and for what is worked
/// out at the first look. It draws nothing and reads no file.
/// </summary>
internal static class Rehearsal
{
    private const int Columns = 120, Lines = 40;

    /// <summary>On the reading thread, while nobody else has the history.</summary>
    public static void Of(CaptureHistory history, NodeTracks tracks, VendorCatalogue? vendor, CancellationToken stop)
    {
        var workspace = new Workspace(vendor);
        workspace.Settle(history, tracks);
        using var frames = new FrameStore(_ => { }, _ => { });
        var browser = new Browser(workspace, frames, new Outlets(_ => { }, (_, _) => ""));
        browser.Compose(Columns, Lines);
        browser.Take(Motion.Down);
        for (int screen = 1; screen < browser.Screens.Count && !stop.IsCancellationRequested; screen++)
        {
            browser.GoTo(screen);
            browser.Compose(Columns, Lines);
            browser.Take(Motion.Down);
            browser.Compose(Columns, Lines);
        }
    }
}
