namespace MeshTrace.Analysis.Findings.Catalogue;

/// <summary>The press and its way: what stands fixed about these findings, and who judges them.</summary>
internal static class PressFindings
{
    private const string Practice = "common practice, no source";
    private const string Users = "reported by users of open mesh stacks; common practice, no source";
    private const string Performance = "R. Rondón and others, IEEE Internet of Things Journal 7(3), 2020";

    internal static FindingDefinition[] Rows =>
    [
        new("press-not-on-air", Severity.Fault,
            "I press, and nothing happens at all",
            "a press that was noted on site, and not one PDU of that panel within 2 s of it: its sequence numbers before and after follow each other, or the chance of having missed it is under 30 %",
            "Look at the panel's battery and firmware, whether it is still in this network (IV index), and whether it publishes at all.",
            Practice),
        new("press-unanswered", Severity.Fault,
            "the lamp does not react, sometimes",
            "a request that owed answers got none: the sequence numbers of those asked tell that they sent nothing, or the chance of having missed all answers is under 30 %; and no other finding tells why",
            "Look at what of the receive procedure is known to reject it; then at power, range and relays, and the count of transmissions.",
            Users),
        new("some-lamps-silent", Severity.Fault,
            "15 of 16 lamps switch on",
            "a request to a group that some answered and others who owed an answer did not, over the capture more often than the share of missed PDUs explains; a steady absentee is told apart from changing ones (3 presses in a row, or 80 % of them)",
            "A steady absentee: its power, subscription, key and distance. Changing ones: raise Network Transmit count and interval.",
            Users),
        new("ttl-exhausted", Severity.Fault,
            "the far room does not work, the near room does",
            "the receive procedure ends at the TTL: it was sent with fewer hops than other messages were seen to take to that node, and the lowest TTL heard was the last one",
            "Raise the publish TTL or the default TTL of the sender, or put a relay between.",
            "Mesh Protocol 1.1 §3.4.6.3"),
        new("answer-lost-on-way-back", Severity.Warning,
            "it worked, but the app says timeout",
            "all answers to an acknowledged request were on the air, and more than 0.2 s after their last copy the client asked again under the same TID",
            "Look at the relays on the way back and at the client: it must listen while its own repeats are still going out; raise the lamp's Network Transmit count.",
            Users),
        new("answers-collide", Severity.Warning,
            "one acknowledged group command, and everything stalls",
            "an acknowledged request to a group or to all nodes with 8 or more elements to answer, and answers lost or the request repeated",
            "Send unacknowledged messages to groups, or ask each lamp by its own address; answers must be spread over 20 to 500 ms.",
            "Mesh Protocol 1.1 §3.7.3.1"),
        new("relay-not-forwarding", Severity.Fault,
            "I put a relay in the middle, and it changes nothing",
            "a node whose relay state is on received at least 20 floods that it could have relayed, by the presses it answered, and no relayed copy was ever attributed to it, though its own PDUs are heard",
            "Switch the relay state on with Config Relay Set (support for it alone is not enough), and look whether it has the NetKey of that subnet.",
            "Mesh Protocol 1.1 §3.4.6.3; reported by users of open mesh stacks"),
        new("relay-crowding", Severity.Warning,
            "with more nodes it gets worse",
            "of half of all floods, more than 6 relays were heard at one place, or more than 40 copies a channel, or copies over more than 300 ms",
            "In one room let a few nodes relay only, and lower the Relay Retransmit count.",
            Performance),
        new("relayed-again", Severity.Warning,
            "the same message over and over",
            "a relay sends the same PDU again with a lower TTL than it did before, in at least 3 floods",
            "Give the node a larger network message cache (32 entries or more).",
            "Mesh Protocol 1.1 §3.4.6.5"),
        new("sent-once-only", Severity.Warning,
            "it sometimes misses a press",
            "a node transmits its PDUs once: by its Network Transmit state, or because of at least 10 PDUs heard from itself none was heard twice and two transmissions would have shown",
            "Set Network Transmit to 3 transmissions or more, or let the panel's model use Publish Retransmit.",
            "Mesh Protocol 1.1 §4.2.20; common practice, no source for the number"),
        new("repeats-too-close", Severity.Warning,
            "retransmissions do not help",
            "a sender repeats its PDUs every 20 ms or faster, and presses of it did not come to all lamps",
            "Set the interval of Network Transmit to 50-100 ms: fewer losses for a slightly later reaction.",
            Users),
        new("no-relay-on-path", Severity.Warning,
            "30 m away it is unreliable",
            "not one relayed copy in the whole capture, no node whose relay state is on, and presses that lamps missed",
            "Let a few nodes on mains power relay.",
            Users),
        new("node-falls-behind", Severity.Warning,
            "the light comes seconds later",
            "a relay that is quick as a rule sends one PDU in twenty on more than 200 ms late, beyond its own repeats, and three times later than usual",
            "Give the node more buffers for relaying, separate from its own messages, or less traffic.",
            Users),
    ];

    internal static IFindingRule[] Rules =>
    [
        new Rules.Presses.PressNotOnAir(),
        new Rules.Presses.TtlExhausted(),
        new Rules.Presses.AnswerLostOnWayBack(),
        new Rules.Presses.RelayNotForwarding(),
        new Rules.Presses.RelayCrowding(),
        new Rules.Presses.RelayedAgain(),
        new Rules.Presses.SentOnceOnly(),
        new Rules.Presses.NodeFallsBehind(),
    ];

    /// <summary>Those that speak of what no other finding explains: judged after all others.</summary>
    internal static IFindingRule[] RulesOfTheRest =>
    [
        new Rules.Presses.PressUnanswered(),
        new Rules.Presses.SomeLampsSilent(),
        new Rules.Presses.AnswersCollide(),
        new Rules.Presses.RepeatsTooClose(),
        new Rules.Presses.NoRelayOnPath(),
    ];
}
