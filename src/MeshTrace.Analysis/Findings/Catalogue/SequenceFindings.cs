using MeshTrace.Analysis.Findings.Rules.Sequence;

namespace MeshTrace.Analysis.Findings.Catalogue;

/// <summary>Sequence numbers, IV index, key refresh: what stands fixed about these findings, and who judges them.</summary>
internal static class SequenceFindings
{
    internal static FindingDefinition[] Rows =>
    [
        new("sequence-went-backwards", Severity.Fault,
            "after reflashing, or installing the app anew, the nodes ignore it",
            "two originals in a row (or four copies) with sequence numbers more than 32 below the highest of that element at the same IV index, rising from there, and never the old line again",
            "Make it keep its sequence number in persistent storage; until it passes the old value, or has a new address, receivers ignore it.",
            "Mesh Protocol 1.1 §3.8.8"),
        new("sequence-jumped", Severity.Remark,
            "the sequence number is thousands higher than it should be",
            "a step of more than 100 numbers, at more than 50 a second, at the same IV index",
            "Nothing to do: after a power cut a node goes on at the next stored block; look at its power supply if it happens often.",
            "common practice, no source"),
        new("sequence-running-out", Severity.Warning,
            "what do I do at 16777216?",
            "a sequence number above three quarters of 0xFFFFFF, and no IV update under way",
            "Start the IV Update procedure at a node of the primary subnet, so that 96 h remain; then let that node send less.",
            "Mesh Protocol 1.1 §3.8.3, §3.11.5"),
        new("replay-list-full", Severity.Fault,
            "it obeys some panels and never the new one",
            "a node is known to have received from as many sources as its replay list holds, and never answers a source that came later, in two presses or more; possible at most",
            "Give it firmware with a larger replay protection list, or let fewer sources address it and its groups.",
            "Mesh Protocol 1.1 §3.8.8"),
        new("iv-index-apart", Severity.Fault,
            "after days without power the lamp is dead",
            "a node sends with another IV index than beacons tell or most nodes use (these also against beacons of a lower one, which may be its own): one below where no update was heard of, or more than one",
            "Let it hear a secure network beacon; if it does not recover, provision it again.",
            "Mesh Protocol 1.1 §3.11.5, §3.11.6"),
        new("iv-update-out-of-time", Severity.Warning,
            "the IV update does not finish",
            "authenticated beacons tell of an update for more than 144 h, or of its end (or a node sends with the new index) within 96 h of its begin",
            "Look at the node that started it: IV update test mode left on, or an update that its timers do not end.",
            "Mesh Protocol 1.1 §3.11.5"),
        new("key-refresh-stuck", Severity.Fault,
            "after the key update the board stops answering",
            "a node sends with the old key more than 60 s after the new one came into use, or the description has had a phase for more than a day and no step was heard",
            "Send it the new key (Config NetKey Update) and Config Key Refresh Phase Set; take dead nodes out of the network.",
            "Mesh Protocol 1.1 §3.11.4"),
    ];

    internal static IFindingRule[] Rules =>
    [
        new SequenceWentBackwards(),
        new SequenceJumped(),
        new SequenceRunningOut(),
        new ReplayListFull(),
        new IvIndexApart(),
        new IvUpdateOutOfTime(),
        new KeyRefreshStuck(),
    ];
}
