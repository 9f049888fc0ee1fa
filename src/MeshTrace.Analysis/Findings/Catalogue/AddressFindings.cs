namespace MeshTrace.Analysis.Findings.Catalogue;

/// <summary>Addresses, keys, bindings: what stands fixed about these findings, and who judges them.</summary>
internal static class AddressFindings
{
    private const string Users = "reported by users of open mesh stacks; common practice, no source";

    internal static FindingDefinition[] Rows =>
    [
        new("nobody-subscribed", Severity.Fault,
            "the message arrives at the node, but my code never sees it",
            "a request goes to a group or label that no server model for it subscribes to, by the description and the Config messages heard",
            "Add the subscription (Config Model Subscription Add) on the element and model that should act, or correct the publish address.",
            "Mesh Protocol 1.1 §3.7.4"),
        new("model-not-on-element", Severity.Warning,
            "the address is right, but there is no reaction",
            "a request goes to the unicast address of an element that has no server model for it, by its composition",
            "Send to the element that holds the model.",
            "Mesh Protocol 1.1 §3.7.4"),
        new("appkey-not-bound", Severity.Fault,
            "element not bound to key; model not bound to AppKey",
            "the receive procedure ends at the AppKey: the node has not the key of the message, or it is not bound to the model that should act; or a model is to publish with such a key",
            "Config AppKey Add, then Config Model App Bind, at both ends.",
            "Mesh Protocol 1.1 §3.7.4, §4.2.3"),
        new("appkey-of-other-subnet", Severity.Fault,
            "the second network key does not work",
            "messages open with an AppKey that is bound to another NetKey than the one they came under",
            "Bind the AppKey to the subnet that is used, or send in the subnet that it is bound to.",
            "Mesh Protocol 1.1 §3.6.4.2, §4.3.2.37"),
        new("panel-not-publishing", Severity.Fault,
            "the button does nothing, the phone works",
            "a node with client models only, none of which has a publish address, and not one message under an AppKey was heard of it; likely only where a press was noted there",
            "Set where it publishes (Config Model Publication Set), after the AppKey is bound to its model.",
            Users),
        new("config-refused", Severity.Fault,
            "I set it, but it is not set",
            "a Config Status with another status code than Success, and no later success for the same item",
            "Correct the request as the status code tells and send it again.",
            "Mesh Protocol 1.1 §4.3.14"),
        new("setup-unfinished", Severity.Warning,
            "the node is there, but cannot be used",
            "provisioning was complete, but Composition Data, an AppKey or its binding was not heard within 60 s after the last message of its set-up, and it never sent under an AppKey; or the description says that its set-up was not completed",
            "Go through the configuration of this node again.",
            Users),
        new("unknown-network", Severity.Remark,
            "your tool shows nothing",
            "at least 3 Network PDUs of a NID that no key opens",
            "If it is your network: give its NetKey (during a key refresh both), and look whether its IV index is known.",
            "Mesh Protocol 1.1 §3.4.4"),
        new("address-claimed-twice", Severity.Fault,
            "a device was added again, and nothing works",
            "the sequence numbers of one source change at least 3 times between two rising lines; or two devices were provisioned with one address; or the description gives one address to two nodes",
            "Remove both from the network and provision them again with fresh addresses, from one shared database.",
            Users),
        new("address-reused-too-soon", Severity.Fault,
            "I removed it, added it again, and now it does not answer",
            "a device is provisioned with an address that the description excludes, or that was reset before, and the IV index has not gone up by two since",
            "Give it a fresh address, or wait until the IV index has gone up by two.",
            "Mesh Configuration Database Profile 1.0.1, networkExclusions; reported by users of open mesh stacks"),
    ];

    internal static IFindingRule[] Rules =>
    [
        new Rules.Address.NobodySubscribed(),
        new Rules.Address.ModelNotOnElement(),
        new Rules.Address.AppKeyOfOtherSubnet(),
        new Rules.Address.AppKeyNotBound(),
        new Rules.Address.PanelNotPublishing(),
        new Rules.Address.ConfigRefused(),
        new Rules.Address.SetupUnfinished(),
        new Rules.Address.UnknownNetwork(),
        new Rules.Address.AddressClaimedTwice(),
        new Rules.Address.AddressReusedTooSoon(),
    ];
}
