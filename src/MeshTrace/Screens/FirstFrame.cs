using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Screens.Reading;

namespace MeshTrace.Screens;

/// <summary>The first frame that shows a thing, or null where none was heard.</summary>
internal static class FirstFrame
{
    public static int? OfFlood(CaptureHistory history, int flood) => history.CopiesOf(flood) is [var copy, ..] ? copy.Frame : null;

    public static int? OfMessage(CaptureHistory history, int message) =>
        message >= 0 && history.FloodsOf(message) is [var flood, ..] ? OfFlood(history, flood) : null;

    public static int? OfBeacon(CaptureHistory history, int beacon) => history.Beacons[beacon].Frames is [var frame, ..] ? frame : null;

    /// <summary>The first thing the node sent of its own; of others' only where there was nothing else.</summary>
    public static int? OfNode(CaptureHistory history, NodeTracks tracks, MeshAddress node)
    {
        int? relayed = null;
        foreach (NodeDeed deed in tracks.Of(node))
        {
            if (deed.Deed != Deed.Relayed)
                return OfFlood(history, deed.Flood);
            relayed ??= deed.Flood;
        }
        return relayed is { } flood ? OfFlood(history, flood) : null;
    }

    public static int? ToGroup(CaptureHistory history, MeshAddress group) => OfFloodWith(history, (in FloodRow flood) => flood.Dst == group);

    /// <summary>The first Network PDU that a subnet's key opened.</summary>
    public static int? UnderNetworkKey(CaptureHistory history, int subnet) => OfFloodWith(history, (in FloodRow flood) => flood.Subnet == subnet);

    /// <summary>The first message that an application key opened.</summary>
    public static int? UnderApplicationKey(CaptureHistory history, int key)
    {
        for (int row = 0; row < history.Messages.Count; row++)
            if (history.Messages[row] is { Key: MessageKey.Application, Decrypted: true } message && message.AppKey == key)
                return OfMessage(history, row);
        return null;
    }

    /// <summary>The evidence of what happened.</summary>
    public static int? OfEvent(CaptureHistory history, LifecycleEvent happened) => happened.Record switch
    {
        "beacon" => OfBeacon(history, happened.Row),
        "flood" => OfFlood(history, happened.Row),
        "message" => OfMessage(history, happened.Row),
        _ => history.FirstProvisioningFrame(happened.Row),
    };

    private delegate bool FloodTest(in FloodRow flood);

    private static int? OfFloodWith(CaptureHistory history, FloodTest test)
    {
        for (int row = 0; row < history.Floods.Count; row++)
            if (test(in history.Floods[row]))
                return OfFlood(history, row);
        return null;
    }
}
