namespace MeshTrace.Analysis.Findings.Catalogue;

/// <summary>The capture itself: what stands fixed about these findings, and who judges them.</summary>
internal static class CaptureFindings
{
    internal static FindingDefinition[] Rows =>
    [
        new("capture-too-thin", Severity.Warning,
            "your tool says it was never sent, but it was",
            "a finding about a node would rest on its silence, and less than 70 % of what it sends was heard: the finding is withheld and this one stands in its place",
            "Put the receiver nearer to that node, use one receiver a channel, or capture at a second place too.",
            "common practice, no source",
            "certain: it is about the capture"),
        new("capture-one-channel", Severity.Remark,
            "some messages are in the file and some are not",
            "less than 2 % of at least 200 frames are on one of the channels 37, 38, 39",
            "Use a receiver that changes channels, or three receivers, one a channel; some nodes send on fewer channels on purpose.",
            "common practice, no source",
            "certain: it is about the capture"),
        new("capture-follows-one-device", Severity.Warning,
            "only my phone's device is in the file",
            "at least 95 % of at least 200 frames of radio receivers (not of a phone's or another host's log) come from one advertiser or from connections",
            "Set the receiver to listen to all advertising instead of following one device; if it does so already, put it nearer to the others.",
            "seen in captures of phone sessions; common practice, no source",
            "likely; of large captures 2000 frames are looked at"),
    ];

    internal static IFindingRule[] Rules =>
    [
        new Rules.Capture.CaptureOneChannel(),
        new Rules.Capture.CaptureFollowsOneDevice(),
        new Rules.Capture.CaptureTooThin(),
    ];
}
