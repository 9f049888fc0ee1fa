using System.Globalization;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access.Catalogue;

namespace MeshTrace.Analysis.Commissioning;

/// <summary>Says a change of configuration in one plain sentence without final stop, and which kind of event it is.</summary>
internal static class ConfigWords
{
    public static (LifecycleKind Kind, string Says) Of(ConfigChange change)
    {
        (LifecycleKind kind, string says) = What(change);
        string ending = change.Standing switch
        {
            ConfigStanding.Asked => ": asked, no Status heard",
            ConfigStanding.Refused when change.StatusCode is { } code and > 0 => $": refused, {StatusCodes.NameOf("Config", code) ?? $"status code {code}"}",
            ConfigStanding.Refused => ": not taken over by the node",
            _ => "",
        };
        string tries = change.Tries > 1 ? string.Create(CultureInfo.InvariantCulture, $" (asked {change.Tries} times)") : "";
        return (change.Standing == ConfigStanding.Refused ? LifecycleKind.ConfigurationRefused : kind, says + ending + tries);
    }

    private static (LifecycleKind, string) What(ConfigChange change)
    {
        CultureInfo culture = CultureInfo.InvariantCulture;
        string model = change.Model is { } instance ? NameOf(instance) : "";
        return change.Kind switch
        {
            ConfigKind.Composition => (LifecycleKind.CompositionTold, string.Create(culture, $"tells its composition: {Elements(change.Composition!)}")),
            ConfigKind.NetKeyAdded => (LifecycleKind.KeyAdded, string.Create(culture, $"gets NetKey {change.KeyIndex}")),
            ConfigKind.NetKeyList => (LifecycleKind.KeyAdded, $"tells its NetKeys: {List(change.Indexes)}"),
            ConfigKind.AppKeyAdded => (LifecycleKind.KeyAdded, string.Create(culture, $"gets AppKey {change.KeyIndex} of NetKey {change.BoundNetKey}")),
            ConfigKind.AppKeyList => (LifecycleKind.KeyAdded, string.Create(culture, $"tells its AppKeys of NetKey {change.BoundNetKey}: {List(change.Indexes)}")),
            ConfigKind.KeyBound => (LifecycleKind.KeyBound, string.Create(culture, $"binds AppKey {change.KeyIndex} to {model}")),
            ConfigKind.KeyUnbound => (LifecycleKind.KeyUnbound, string.Create(culture, $"unbinds AppKey {change.KeyIndex} from {model}")),
            ConfigKind.BindingList => (LifecycleKind.KeyBound, $"tells the AppKeys bound to {model}: {List(change.Indexes)}"),
            ConfigKind.SubscriptionAdded => (LifecycleKind.SubscriptionChanged, $"subscribes {model} to {change.Address}"),
            ConfigKind.SubscriptionDeleted => (LifecycleKind.SubscriptionChanged, $"takes {change.Address} from the subscriptions of {model}"),
            ConfigKind.SubscriptionsCleared => (LifecycleKind.SubscriptionChanged, $"clears the subscriptions of {model}"),
            ConfigKind.SubscriptionOverwritten => (LifecycleKind.SubscriptionChanged, $"subscribes {model} to {change.Address} alone"),
            ConfigKind.SubscriptionList => (LifecycleKind.SubscriptionChanged, $"tells the subscriptions of {model}: {(change.Addresses.Count == 0 ? "none" : string.Join(", ", change.Addresses))}"),
            ConfigKind.Publication => (LifecycleKind.PublicationSet, Publication(model, change.Publication!)),
            ConfigKind.Relay => (LifecycleKind.FeatureSet, string.Create(culture, $"relay {State(change.Value)}, {Times(change.Transmit)}")),
            ConfigKind.Proxy => (LifecycleKind.FeatureSet, $"proxy {State(change.Value)}"),
            ConfigKind.Friend => (LifecycleKind.FeatureSet, $"friend {State(change.Value)}"),
            ConfigKind.Beacon => (LifecycleKind.FeatureSet, $"secure network beacon {State(change.Value)}"),
            ConfigKind.DefaultTtl => (LifecycleKind.SettingChanged, string.Create(culture, $"default TTL {change.Value}")),
            ConfigKind.NetworkTransmit => (LifecycleKind.SettingChanged, $"network transmit: {Times(change.Transmit)}"),
            ConfigKind.HeartbeatPublication => (LifecycleKind.SettingChanged, change.Address.Address == MeshAddress.Unassigned ? "heartbeats off" : $"heartbeats go to {change.Address}"),
            ConfigKind.HeartbeatSubscription => (LifecycleKind.SettingChanged, change.Address.Address == MeshAddress.Unassigned ? "listens to no heartbeats" : $"listens to heartbeats of {change.Address}"),
            ConfigKind.NetKeyUpdated => (LifecycleKind.KeyHandedOut, string.Create(culture, $"gets the new NetKey {change.KeyIndex} of a key refresh")),
            ConfigKind.AppKeyUpdated => (LifecycleKind.KeyHandedOut, string.Create(culture, $"gets the new AppKey {change.KeyIndex} of a key refresh")),
            ConfigKind.NetKeyDeleted => (LifecycleKind.KeyDeleted, string.Create(culture, $"loses NetKey {change.KeyIndex}")),
            ConfigKind.AppKeyDeleted => (LifecycleKind.KeyDeleted, string.Create(culture, $"loses AppKey {change.KeyIndex}")),
            ConfigKind.KeyRefreshPhase => (LifecycleKind.KeyRefreshPhase, string.Create(culture, $"key refresh of NetKey {change.KeyIndex}: {(change.Request < 0 ? "phase" : "transition")} {change.Value}")),
            _ => (LifecycleKind.NodeReset, "leaves the network (node reset)"),
        };
    }

    /// <summary>The model's name where the standard has one, and its element.</summary>
    internal static string NameOf(ModelInstance instance)
    {
        string? name = instance.Model.Company is null ? ModelCatalogue.Find(instance.Model.Number)?.Name : null;
        return name is null ? $"model {instance.Model} of {instance.Element}" : $"{name} ({instance.Model}) of {instance.Element}";
    }

    private static string Publication(string model, PublicationState publication)
    {
        if (publication.Address.Address == MeshAddress.Unassigned)
            return $"{model} publishes nowhere";
        string ttl = publication.Ttl == DescribedPublish.DefaultTtl ? "the default TTL" : string.Create(CultureInfo.InvariantCulture, $"TTL {publication.Ttl}");
        return string.Create(CultureInfo.InvariantCulture, $"{model} publishes to {publication.Address} with AppKey {publication.AppKeyIndex} and {ttl}");
    }

    private static string Elements(CompositionPage0 page)
    {
        int models = page.Elements.Sum(element => element.Count);
        return string.Create(CultureInfo.InvariantCulture, $"{page.Elements.Count} element{(page.Elements.Count == 1 ? "" : "s")}, {models} model{(models == 1 ? "" : "s")}");
    }

    private static string State(int value) => value switch { 0 => "off", 1 => "on", 2 => "not supported", _ => string.Create(CultureInfo.InvariantCulture, $"state {value}") };

    private static string Times(DescribedTransmit? transmit) => transmit is { } times
        ? string.Create(CultureInfo.InvariantCulture, $"{times.Count} transmission{(times.Count == 1 ? "" : "s")} every {times.IntervalMs} ms") : "";

    private static string List(IReadOnlyList<int> indexes) => indexes.Count == 0 ? "none" : string.Join(", ", indexes.Select(index => index.ToString(CultureInfo.InvariantCulture)));
}
