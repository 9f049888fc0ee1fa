using System.Globalization;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Reports.Records;
using MeshTrace.Reports.Words;

namespace MeshTrace.Screens;

/// <summary>A node or a group in words: what it is said to be, and what was heard of it.</summary>
internal static class NodeWords
{
    private const int MostAddresses = 4;

    public static void Say(Lines lines, Account account, NodeRecord node)
    {
        lines.Say($"{account.Names.Full(node.Unicast)}: {Heard(account, node)}", tone: Tone.Strong);
        foreach (Finding finding in account.History.Findings)
            if (finding.Node == node.Unicast)
                PressWords.Say(lines, finding);
        if (node.Advertisers.Count > 0)
            lines.Say($"Sends as {Phrases.List([.. node.Advertisers.Select(JsonForms.DeviceAddressText)], MostAddresses)}; median signal {node.RssiMedian?.ToString(CultureInfo.InvariantCulture) ?? "?"} dBm; SEQ {node.SeqFirst} to {node.SeqLast}, {Phrases.Number(node.SeqGaps ?? 0)} not heard.", "  ");
        if (account.History.Directory.Description?.NodeAt(node.Unicast) is not { } described)
        {
            lines.Say("The description does not name it.", "  ", Tone.Quiet);
            return;
        }
        lines.Say($"Features: {Features(described.Features)}; default TTL {described.DefaultTtl?.ToString(CultureInfo.InvariantCulture) ?? "not told"}; application keys {Keys(described)}.", "  ");
        foreach (DescribedElement element in described.Elements)
        {
            lines.Add(new Cell($"  element {element.Address}  ", Tone.Quiet), new Cell(account.Names.Short(element.Address)));
            foreach (DescribedModel model in element.Models)
                lines.Say(Model(account, model), "    ");
        }
    }

    public static void SayGroup(Lines lines, Account account, MeshAddress group)
    {
        lines.Say($"{account.Names.Full(group)}", tone: Tone.Strong);
        IReadOnlyList<DescribedModel> subscribed = account.History.Directory.Description?.ModelsSubscribedTo(group) ?? [];
        if (subscribed.Count == 0)
            lines.Say("No model subscribes to it, as far as the description tells: what is sent there nobody receives.", "  - ", markTone: Tone.Bad);
        foreach (IGrouping<MeshAddress, DescribedModel> element in subscribed.GroupBy(model => model.Element))
            lines.Say($"{account.Names.Full(element.Key)}: {Phrases.List([.. element.Select(ModelName)])}", "  receives  ");
        foreach (DescribedNode node in account.History.Directory.Description?.Nodes ?? [])
            foreach (DescribedModel model in node.Elements.SelectMany(element => element.Models))
                if (model.Publish is { } publish && publish.Address.Address == group)
                    lines.Say($"{account.Names.Full(model.Element)}: {ModelName(model)}{Ttl(publish)}", "  publishes ");
    }

    private static string Heard(Account account, NodeRecord node)
    {
        if (node.FloodsSent + node.FloodsRelayed == 0)
            return "not heard in this capture.";
        string share = account.ShareHeard(node) is { } known ? $"; about {Phrases.Percent(known)} of its PDUs were heard" : "";
        return $"sent {Phrases.Count(node.FloodsSent, "Network PDU")} and was heard to relay {Phrases.Number(node.FloodsRelayed)}{share}.";
    }

    private static string Keys(DescribedNode node) => node.AppKeys is { Count: > 0 } keys ? string.Join(", ", keys.Select(key => key.Index)) : "not told";

    private static string Features(DescribedFeatures features) =>
        $"relay {Word(features.Relay)}, proxy {Word(features.Proxy)}, friend {Word(features.Friend)}, low power {Word(features.LowPower)}";

    private static string Word(FeatureState state) => state switch
    {
        FeatureState.Enabled => "on",
        FeatureState.Disabled => "off",
        FeatureState.NotSupported => "no",
        _ => "?",
    };

    private static string Model(Account account, DescribedModel model)
    {
        string subscribes = model.Subscribe.Count == 0 ? "" : $"; receives {Phrases.List([.. model.Subscribe.Select(address => account.Names.Short(address.Address))], 6)}";
        string publishes = model.Publish is { } publish ? $"; publishes to {account.Names.Short(publish.Address.Address)}{Ttl(publish)}" : "";
        string bound = model.Bind.Count == 0 ? "" : $"; application keys {string.Join(", ", model.Bind)}";
        return ModelName(model) + bound + subscribes + publishes;
    }

    private static string ModelName(DescribedModel model) =>
        (model.CompanyId is null ? ModelCatalogue.Find(model.ModelId)?.Name : null) ?? $"model {model}";

    private static string Ttl(DescribedPublish publish) => publish.Ttl switch
    {
        null => "",
        DescribedPublish.DefaultTtl => " with the default TTL",
        var ttl => $" with TTL {ttl}",
    };
}
