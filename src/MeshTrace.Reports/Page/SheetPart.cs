using System.Globalization;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Repeats;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Page;

/// <summary>The commissioning sheet: nodes, groups, who publishes where, transmit settings, what was verified on the air and what was not, and room to sign.</summary>
internal static class SheetPart
{
    private const int MostNodes = 300, MostPublications = 400, MostGroups = 200, MostListeners = 24, MostUnverified = 60;

    public static void Write(PageDraft draft)
    {
        SheetFacts facts = SheetFacts.Of(draft.History);
        if (facts.States.Count == 0)
        {
            draft.Says("No description was given and no configuration was heard, so there is nothing to sign for. Give the network's exported description with --network FILE.");
            return;
        }
        string name = SafeText.Strip(draft.History.Directory.Description?.Name) is { Length: > 0 } given ? $" of \"{given}\"" : "";
        draft.Says($"The last known configuration{name}, by the description and the Config messages heard. 'Verified' means that this capture shows it; all else is what the description says.");
        WriteNodes(draft, facts);
        WritePublications(draft, facts);
        WriteGroups(draft, facts);
        WriteUnverified(draft, facts);
        WriteSigning(draft.Markup);
    }

    private static void WriteNodes(PageDraft draft, SheetFacts facts)
    {
        draft.Heading("Nodes and transmit settings");
        Dictionary<MeshAddress, NodeRecord> records = draft.History.Nodes.ToDictionary(node => node.Unicast);
        using (var grid = new Grid(draft.Markup, "Nodes", "Node", "Address", new Column("Elements", true), "Features", "Default TTL", "Network transmit", "Relay retransmit", "Verified on the air"))
        {
            foreach (NodeState state in facts.States.Take(MostNodes))
                grid.Row(draft.Name(state.Unicast), draft.Account.Names.Address(state.Unicast), state.Elements?.ToString(CultureInfo.InvariantCulture) ?? "-", Features(state),
                    state.DefaultTtl.IsKnown ? state.DefaultTtl.Value.ToString(CultureInfo.InvariantCulture) : "-", Transmit(state.NetworkTransmit, draft.History.Repeats?.NetworkTransmitOf(state.Unicast)), Transmit(state.RelayRetransmit, draft.History.Repeats?.RelayRetransmitOf(state.Unicast)),
                    Heard(records.GetValueOrDefault(state.Unicast)));
        }
        draft.LeftOut(facts.States.Count - MostNodes, "nodes", "the description has them");
    }

    private static GridCell Heard(NodeRecord? node) => node is null || node.FloodsSent + node.FloodsRelayed == 0 ? new GridCell("no: not heard", Tone.Mixed)
        : new GridCell($"yes: {Phrases.Count(node.FloodsSent, "PDU")} sent{(node.FloodsRelayed > 0 ? $", {Phrases.Number(node.FloodsRelayed)} relayed" : "")}", Tone.Good);

    private static string Features(NodeState state)
    {
        List<string> on = [];
        foreach ((string name, Known<FeatureState> feature) in (ReadOnlySpan<(string, Known<FeatureState>)>)[("relay", state.Relay), ("proxy", state.Proxy), ("friend", state.Friend), ("low power", state.LowPower)])
            if (feature is { IsKnown: true, Value: FeatureState.Enabled })
                on.Add(name + Source(feature.From));
        return on.Count > 0 ? string.Join(", ", on) : state.Relay.IsKnown ? "none on" : "not known";
    }

    /// <summary>The setting, and how many transmissions of a PDU were heard.</summary>
    private static string Transmit(Known<DescribedTransmit?> setting, RepeatCount? heard)
    {
        string seen = heard is { Samples: > 0 } ? $"heard {heard.Transmissions} x" : "";
        return setting.Value is { } known ? $"{known.Count} x {known.IntervalMs} ms{Source(setting.From)}{(seen.Length > 0 ? "; " + seen : "")}" : seen.Length > 0 ? $"not known; {seen}" : "-";
    }

    /// <summary>What the capture adds to the word of the description.</summary>
    private static string Source(KnownFrom from) => from switch
    {
        KnownFrom.Confirmed or KnownFrom.Observed => " (verified)",
        KnownFrom.Asked => " (asked for, no answer heard)",
        _ => "",
    };

    private static void WritePublications(PageDraft draft, SheetFacts facts)
    {
        draft.Heading("Who publishes where");
        if (facts.Publications.Count == 0)
        {
            draft.Says("No model is known to publish anywhere.");
            return;
        }
        using (var grid = new Grid(draft.Markup, "Publications", "Element", "Model", "Publishes to", new Column("Application key", true), "TTL", "Repeats", "Verified on the air"))
        {
            foreach (SheetPublication publication in facts.Publications.Take(MostPublications))
            {
                PublicationState state = publication.State;
                grid.Row(draft.FullName(publication.Model.Element), ModelName(publication.Model.Model), draft.FullName(state.Address.Address), state.AppKeyIndex?.ToString(CultureInfo.InvariantCulture) ?? "-",
                    state.Ttl switch { null => "-", DescribedPublish.DefaultTtl => "default", { } ttl => ttl.ToString(CultureInfo.InvariantCulture) }, Repeats(state), Verified(publication));
            }
        }
        draft.LeftOut(facts.Publications.Count - MostPublications, "publications", "the description has them");
    }

    private static GridCell Verified(SheetPublication publication) =>
        publication.Heard > 0 ? new GridCell($"yes: {Phrases.Count(publication.Heard, "message")} of this model to it heard", Tone.Good)
        : publication.From is KnownFrom.Confirmed or KnownFrom.Observed ? new GridCell("set, by the node's own word; not heard in use", Tone.Mixed)
        : new GridCell("no: not heard in use", Tone.Mixed);

    private static string Repeats(PublicationState state)
    {
        string retransmit = state.RetransmitCount is { } count ? count == 0 ? "once" : $"{count + 1} x {state.RetransmitIntervalMs?.ToString(CultureInfo.InvariantCulture) ?? "?"} ms" : "-";
        return state.PeriodMs is > 0 ? $"{retransmit}, every {Phrases.Duration(state.PeriodMs.Value)}" : retransmit;
    }

    internal static string ModelName(ModelNumber model) => (model.Company is null ? ModelCatalogue.Find(model.Number)?.Name : null) ?? $"model {model}";

    private static void WriteGroups(PageDraft draft, SheetFacts facts)
    {
        draft.Heading("Groups");
        if (facts.Groups.Count == 0)
        {
            draft.Says("No group is known.");
            return;
        }
        using (var grid = new Grid(draft.Markup, "Groups and who listens to them", "Group", "Address", "Elements that listen", new Column("Presses heard", true), "Verified on the air"))
        {
            foreach (SheetGroup group in facts.Groups.Take(MostGroups))
                grid.Row(draft.Name(group.Address), draft.Account.Names.Address(group.Address), group.Listeners.Count == 0 ? new GridCell("none known", group.Asked + group.NotAsked > 0 ? Tone.Bad : Tone.Mixed) : Phrases.List([.. group.Listeners.Select(draft.Name)], MostListeners),
                    Phrases.Number(group.Asked + group.NotAsked), Verified(group));
        }
        draft.LeftOut(facts.Groups.Count - MostGroups, "groups", "the description has them");
    }

    private static GridCell Verified(SheetGroup group)
    {
        int answered = group.Listeners.Count(group.Answered.ContainsKey);
        return group.Listeners.Count == 0 ? group.Asked + group.NotAsked > 0 ? new GridCell("no: presses heard, but nobody listens", Tone.Bad) : new GridCell("no: no press heard", Tone.Mixed)
            : answered == group.Listeners.Count ? new GridCell($"yes: each of {answered} answered at least once", Tone.Good)
            : answered > 0 ? new GridCell($"in part: {answered} of {group.Listeners.Count} answered", Tone.Mixed)
            : new GridCell(group.Asked > 0 ? "no: no answer heard" : group.NotAsked > 0 ? "no: no answer was asked for" : "no: no press heard", Tone.Mixed);
    }

    /// <summary>What the person on site still has to try.</summary>
    private static void WriteUnverified(PageDraft draft, SheetFacts facts)
    {
        draft.Heading("Not verified: to be tried on site");
        HashSet<MeshAddress> heard = [.. draft.History.Nodes.Where(node => node.FloodsSent + node.FloodsRelayed > 0).Select(node => node.Unicast)];
        List<string> open = [];
        foreach (NodeState state in facts.States.Where(state => !heard.Contains(state.Unicast)))
            open.Add($"{draft.FullName(state.Unicast)} was not heard at all.");
        foreach (SheetPublication publication in facts.Publications.Where(one => one.Heard == 0))
            open.Add($"{ModelName(publication.Model.Model)} of {draft.FullName(publication.Model.Element)} was not heard to publish to {draft.FullName(publication.State.Address.Address)}.");
        foreach (SheetGroup group in facts.Groups)
            if (group.Listeners.Where(element => !group.Answered.ContainsKey(element)).Select(draft.Name).ToList() is { Count: > 0 } silent)
                open.Add($"{draft.FullName(group.Address)}: no answer heard from {Phrases.List(silent, MostListeners)}.");
        if (open.Count == 0)
        {
            draft.Says("Nothing: every node, publication and group listed was verified on the air.");
            return;
        }
        draft.Markup.Open("ul", ("class", "boxes"));
        foreach (string one in open.Take(MostUnverified))
            draft.Markup.Element("li", one);
        draft.Markup.Close();
        draft.LeftOut(open.Count - MostUnverified, "more of this kind", "the tables above tell them");
    }

    /// <summary>Lines to fill in by hand.</summary>
    private static void WriteSigning(Markup markup)
    {
        markup.Element("h3", "Checked on site").Open("dl", ("class", "sign"));
        foreach (string line in (ReadOnlySpan<string>)["Site", "Date and time", "Checked by", "Remarks", "Signature"])
            markup.Open("div").Element("dt", line).Element("dd", "\u00A0").Close();
        markup.Close();
    }
}
