using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Access.Catalogue;

namespace MeshTrace.Analysis.Findings.Rules.Address;

/// <summary>A node's Status refused a change of its configuration, and no later try was taken.</summary>
internal sealed class ConfigRefused : IFindingRule
{
    public string Id => "config-refused";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        if (history.Configuration is not { } configuration)
            return;
        var told = new HashSet<(Protocol.MeshAddress, ConfigKind, Nodes.ModelInstance?, int, byte)>();
        foreach (Protocol.MeshAddress node in configuration.Nodes)
        {
            IReadOnlyList<ConfigChange> changes = configuration.OfNode(node);
            for (int at = 0; at < changes.Count; at++)
                if (changes[at].Standing == ConfigStanding.Refused && !TakenLater(changes, at))
                    Tell(findings, changes[at], told);
        }
        foreach (ConfigChange refused in configuration.RefusedUnheard)
            if (!TakenLater(configuration.OfNode(refused.Node), refused))
                Tell(findings, refused, told);
    }

    private void Tell(FindingSink findings, ConfigChange refused, HashSet<(Protocol.MeshAddress, ConfigKind, Nodes.ModelInstance?, int, byte)> told)
    {
        if (refused.StatusCode is not (> 0 and var code) || !told.Add((refused.Node, refused.Kind, refused.Model, refused.KeyIndex, code)))
            return;
        string name = StatusCodes.NameOf("Config", code) ?? $"status code {code}";
        List<Evidence> evidence = [new("message", refused.Status)];
        if (refused.Request >= 0)
            evidence.Add(new("message", refused.Request));
        findings.Add(Id, Confidence.Certain, refused.StatusTimeNs ?? refused.TimeNs, refused.Node, null,
            $"{findings.Words.Name(refused.Node)} refused a change of its configuration: {ConfigWords.Of(refused).Says}.", evidence, RemedyOf(code, name));
    }

    /// <summary>Of a refusal alone only the item is known: anything confirmed about it later counts.</summary>
    private static bool TakenLater(IReadOnlyList<ConfigChange> changes, ConfigChange refused)
    {
        foreach (ConfigChange change in changes)
            if (change.Standing == ConfigStanding.Confirmed && change.TimeNs > refused.TimeNs && change.Kind == refused.Kind && change.Model == refused.Model
                && change.KeyIndex == refused.KeyIndex && change.Address.Address == refused.Address.Address)
                return true;
        return false;
    }

    /// <summary>The same was asked again and confirmed, or the whole state was told to be as asked.</summary>
    private static bool TakenLater(IReadOnlyList<ConfigChange> changes, int at)
    {
        for (int later = at + 1; later < changes.Count; later++)
            if (changes[later].Standing == ConfigStanding.Confirmed && changes[later].IsSameAs(changes[at]))
                return true;
        return false;
    }

    /// <summary>What helps against each code (Mesh Protocol 1.1 §4.3.14 gives their meaning; the advice is common practice, no source).</summary>
    private static string? RemedyOf(byte code, string name) => code switch
    {
        0x01 => "Address the element by its own unicast address: take the composition of the node.",
        0x02 => "The element has no such model: take the composition of the node and use a model that it has.",
        0x03 => "Add the AppKey to the node first (Config AppKey Add), then bind and publish with it.",
        0x04 => "Add the NetKey to the node first (Config NetKey Add).",
        0x05 => "The node has no room left: remove keys, bindings or subscriptions that nobody needs.",
        0x06 => "Another key is stored under that index: delete it first, or use another index.",
        0x07 => "This model publishes to fixed addresses only, or needs its AppKey bound first.",
        0x08 => "This model takes no subscriptions: subscribe the model that it extends.",
        _ => $"Look at what \"{name}\" means for this message, correct the request and send it again.",
    };
}
