using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;

namespace MeshTrace.Reports.Words;

/// <summary>
/// What changed in the network while the receiver listened: who joined and how, how each node was set up, IV updates, key refreshes, friendships, and what
/// is missing for the configured groups to work.
/// </summary>
internal static class StorySection
{
    private const int MostDevices = 40, MostEvents = 14, MostNetworkEvents = 30, MostGaps = 12, MostWaiting = 8;
    private const string Step = "    ", Missing = "  - ";

    public static void Write(Paper paper, Account account)
    {
        CaptureHistory history = account.History;
        if (history.Configuration is null)
            return;         // a history put together by hand
        CommissioningStory story = history.Commissioning;
        List<NodeStory> waiting = [.. story.Devices.Where(device => device.Node is null && device.Links.Count == 0)];
        List<NodeStory> devices = [.. story.Devices.Where(device => device.Events.Count > 0 && !waiting.Contains(device))];
        var told = devices.Concat(waiting).SelectMany(device => device.Events).ToHashSet(ReferenceEqualityComparer.Instance);
        List<LifecycleEvent> others = [.. history.Lifecycle.Where(one => !told.Contains(one))];
        if (devices.Count == 0 && waiting.Count == 0 && others.Count == 0 && story.Gaps.Count == 0)
            return;
        paper.Heading("Joining, setting up and changes");
        foreach (NodeStory device in devices.Take(MostDevices))
            WriteDevice(paper, account, device);
        if (devices.Count > MostDevices)
            Remainder(paper, devices.Count - MostDevices, "more device");
        if (waiting.Count > 0)
            paper.Paragraph(Waiting(waiting));
        WriteEvents(paper, account, others, MostNetworkEvents, "  ", withNode: true);
        WriteGaps(paper, account, story.Gaps);
    }

    private static void WriteDevice(Paper paper, Account account, NodeStory device)
    {
        string name = device.Node is { } node ? DisplayWidth.Isolate(account.Names.Full(node)) : device.DeviceUuid is { } uuid ? $"Device {uuid}" : "A device that nothing names";
        string tries = device.Links.Count > 1 ? $", {Phrases.Count(device.Links.Count, "provisioning")} tried" : "";
        paper.Line(new Cell($"  {name}{tries}", Tone.Strong));
        WriteEvents(paper, account, device.Events, MostEvents, Step, withNode: false);
        foreach (int link in device.Links)
            if (ProvisioningWords(account.History.Provisionings[link], KeysAreKnown(account, device)) is { } words)
                paper.Paragraph(words, Step + "          ");
        if (WhatIsMissing(account, device) is { } missing)
            paper.Paragraph(missing, Step + "  ! ", markTone: Tone.Mixed);
    }

    private static void WriteEvents(Paper paper, Account account, IReadOnlyList<LifecycleEvent> events, int most, string indent, bool withNode)
    {
        int lines = 0;
        for (int at = 0; at < events.Count; lines++)
        {
            if (lines == most)
            {
                Remainder(paper, events.Count - at, "more event", indent);
                return;
            }
            LifecycleEvent one = events[at];
            string who = withNode && one.Node is { } node ? DisplayWidth.Isolate(account.Names.Full(node)) + " " : "";
            int alike = AlikeFrom(events, at);
            string more = alike == 1 ? "" : $", and {Phrases.Number(alike - 1)} more of the kind until {Phrases.Clock(events[at + alike - 1].TimeNs)}";
            paper.Paragraph($"{who}{SafeText.Strip(one.Says, 400)}{more}", $"{indent}{Phrases.Clock(one.TimeNs)}  ", markTone: ToneOf(one.Kind));
            at += alike;
        }
    }

    /// <summary>How many steps of one kind follow each other for one node: many bindings in a row are told once. Two are told both.</summary>
    private static int AlikeFrom(IReadOnlyList<LifecycleEvent> events, int at)
    {
        int end = at + 1;
        while (end < events.Count && events[end].Kind == events[at].Kind && events[end].Node == events[at].Node && IsStep(events[at].Kind))
            end++;
        return end - at > 2 ? end - at : 1;
    }

    private static bool IsStep(LifecycleKind kind) =>
        kind is LifecycleKind.KeyBound or LifecycleKind.KeyUnbound or LifecycleKind.SubscriptionChanged or LifecycleKind.PublicationSet or LifecycleKind.KeyAdded;

    private static string Waiting(List<NodeStory> waiting) =>
        $"{Phrases.Count(waiting.Count, "device")} seen that {(waiting.Count == 1 ? "waits" : "wait")} to be provisioned: "
        + $"{Phrases.List([.. waiting.Select(device => device.DeviceUuid?.ToString() ?? "without UUID")], MostWaiting)}.";

    private static void Remainder(Paper paper, int count, string what, string indent = "  ") =>
        paper.Paragraph($"{Phrases.Count(count, what)}: 'meshtrace records --only event' lists all.", indent, Tone.Quiet);

    private static Tone ToneOf(LifecycleKind kind) => kind is LifecycleKind.ProvisioningFailed or LifecycleKind.ConfigurationRefused ? Tone.Bad : Tone.Plain;

    /// <summary>What could be read of a provisioning, and what is needed to read more; null where it led nowhere near keys.</summary>
    private static string? ProvisioningWords(ProvisioningLink link, bool keysAreKnown) => link switch
    {
        { KeysLearnt: true, Confirmation: ConfirmationCheck.Wrong } =>
            "Opened with the given private key: its network key and device key are used from here on. The confirmations fit neither \"no out-of-band value\" nor a value given (--provisioning-oob).",
        { KeysLearnt: true } => "Opened with the given private key: its network key and device key are used from here on.",
        { Outcome: ProvisioningOutcome.Complete } when keysAreKnown => $"It was not opened itself ({WhyClosed(link.PrivateKey)}), but the device key that came of it is known from elsewhere.",
        { Outcome: ProvisioningOutcome.Complete, PrivateKey: not PrivateKeyUse.NoneGiven } => $"Its keys stay unknown: {WhyClosed(link.PrivateKey)}. The exported description has them (--network).",
        { Outcome: ProvisioningOutcome.Complete } =>
            "Its keys stay unknown: a passive listener needs the private key of one side (--provisioning-key) or the exported description.",
        { Confirmation: ConfirmationCheck.Wrong } => "The confirmations do not fit any out-of-band value given.",
        _ => null,
    };

    private static string WhyClosed(PrivateKeyUse use) => use switch
    {
        PrivateKeyUse.NoneGiven => "no private key of one side was given",
        PrivateKeyUse.OfNeitherSide => "the private key given (--provisioning-key) belongs to neither side of it",
        PrivateKeyUse.NotAllHeard => "a private key was given, but not all provisioning PDUs that it needs were heard",
        _ => "the private key given (--provisioning-key) does not open its data",
    };

    private static bool KeysAreKnown(Account account, NodeStory device) => device.Node is { } node && account.History.Keys.DeviceKeys.Any(key => key.Node == node);

    /// <summary>Usual steps that were not heard; null where Config messages to it could not be read anyway.</summary>
    private static string? WhatIsMissing(Account account, NodeStory device)
    {
        if (device.JoinedBy is null || device.Node is not { } node || !KeysAreKnown(account, device) || account.History.Configuration!.Unread.ContainsKey(node))
            return null;
        var steps = new List<string>();
        if (!device.CompositionTold)
            steps.Add("Composition Data");
        if (!device.AppKeyAdded)
            steps.Add("an AppKey");
        if (!device.KeyBound)
            steps.Add("a binding to a model");
        return steps.Count == 0 ? null : $"After it joined, this was not heard to be done: {Phrases.List(steps)}. It may have been done where this receiver hears nothing, or later.";
    }

    private static void WriteGaps(Paper paper, Account account, IReadOnlyList<SetupGap> gaps)
    {
        if (gaps.Count == 0)
            return;
        paper.Paragraph("Missing for presses to have an effect, by the last known settings:");
        List<string> lines = [.. gaps.Select(gap => GapWords.Of(gap, account.Names)).Distinct()];
        foreach (string line in lines.Take(MostGaps))
            paper.Paragraph(line, Missing, markTone: Tone.Mixed);
        if (lines.Count > MostGaps)
            paper.Paragraph($"{Phrases.Number(lines.Count - MostGaps)} more of this kind.", Missing, Tone.Quiet);
    }
}
