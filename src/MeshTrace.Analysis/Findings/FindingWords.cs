using System.Globalization;
using MeshTrace.Analysis.Findings.Rules;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.ReceiversEye;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Findings;

/// <summary>Words that many findings share: names with addresses, short lists, numbers.</summary>
internal sealed class FindingWords(CaptureHistory history)
{
    private const int MostNames = 4;

    /// <summary>Name and address, or the address alone.</summary>
    public string Name(MeshAddress address) => history.Called(address);

    public string Names(IEnumerable<MeshAddress> addresses) => List(addresses.Distinct().Order().Select(Name));

    /// <summary>The element and model of a model instance.</summary>
    public string Name(ModelInstance model) =>
        $"{(model.Model.Company is null ? Protocol.Access.Catalogue.ModelCatalogue.Find(model.Model.Number)?.Name : null) ?? $"model {model.Model}"} of {Name(model.Element)}";

    /// <summary>What a press asks of whom: <c>"on" to Stairs (0xC002)</c>.</summary>
    public string Ask(Press press) => $"\"{press.Asks}\" to {Name(press.Dst)}";

    public static string List(IEnumerable<string> items, int most = MostNames)
    {
        string[] all = [.. items];
        return all.Length switch
        {
            0 => "nobody",
            1 => all[0],
            _ when all.Length <= most => $"{string.Join(", ", all[..^1])} and {all[^1]}",
            _ => $"{string.Join(", ", all[..most])} and {all.Length - most} more",
        };
    }

    public static string Count(int count, string one, string? many = null) =>
        string.Create(CultureInfo.InvariantCulture, $"{count} {(count == 1 ? one : many ?? one + "s")}");

    public static string Number(double value, string format = "0") => value.ToString(format, CultureInfo.InvariantCulture);

    /// <summary>Presses, then what the views of them rest on, each row once; as much as is kept of a finding.</summary>
    public static List<Evidence> EvidenceOf(IEnumerable<Silence> silences) =>
    [
        .. silences.Select(silence => new Evidence("press", silence.Press)).Distinct()
            .Concat(silences.SelectMany(silence => silence.View.Evidence).Where(one => one.Record != "press").Distinct()).Take(FindingSink.MostEvidence),
    ];

    public static List<int> PressesOf(IEnumerable<Silence> silences) => [.. silences.Select(silence => silence.Press).Distinct().Order()];

    /// <summary>What to do about the step that rejects; or where nothing known rejects, about what is left.</summary>
    public static string RemedyFor(in EyeGlance view) => view.Verdict == EyeVerdict.Rejected ? view.Step switch
    {
        ReceiveStep.NetworkKey => "Give it the network key (Config NetKey Add), or set it up again where it left the network.",
        ReceiveStep.IvIndex => "Let it hear a Secure Network beacon of the network; after more than 48 weeks away it has to be provisioned again.",
        ReceiveStep.Reach => "Raise the publish TTL or the Default TTL of the sender, or put a relay between.",
        ReceiveStep.ReplayProtection => "Make the sender keep its sequence number when it restarts; it is heard again once it has passed the old value, or with a new address.",
        ReceiveStep.ReplayListSpace => "Give it firmware with a larger replay protection list, or let fewer sources address it and its groups.",
        ReceiveStep.AppKey or ReceiveStep.Binding => "Config AppKey Add, then Config Model App Bind, at both ends.",
        ReceiveStep.Model => "Send to the element that holds the model.",
        ReceiveStep.Address => "Add the subscription (Config Model Subscription Add) on the element and model that should act.",
        ReceiveStep.Transaction => "Raise the TID with each press, also for unacknowledged messages.",
        _ => "See that all of the message comes to it: range, relays, and the count of transmissions.",
    } : view.Doubt == EyeDoubt.ConfigurationUnknown ? "Look at its keys, models and subscriptions; then at power, range and relays, and the count of transmissions."
        : "Look at its power, at range and relays on the way to it, and at the count of transmissions.";

    /// <summary>Why one element or several did not act, as far as the receiver's eye knows, as the end of a sentence.</summary>
    public static string Why(in EyeGlance view, bool several = false)
    {
        (string they, string have, string their, string them) = several ? ("they", "have", "their", "them") : ("it", "has", "its", "it");
        string takes = several ? "they take" : "it takes";
        if (view.Verdict != EyeVerdict.Rejected)
            return view.Doubt switch
            {
                EyeDoubt.ConfigurationUnknown => $"{their} keys, models or subscriptions are not known here, so the cause cannot be told",
                EyeDoubt.ReachUnknown => $"whether any copy came to {them} cannot be told",
                _ => $"nothing known of {their} configuration kept {them} from acting: look at {their} power and {their} distance",
            };
        return view.Step switch
        {
            ReceiveStep.NetworkKey when view.OutOfNetwork => $"{(several ? "they were" : "it was")} in no network then (reset, or not provisioned yet)",
            ReceiveStep.NetworkKey => $"{they} {have} not the network key of this subnet",
            ReceiveStep.IvIndex => $"{(several ? "they are" : "it is")} at another IV index",
            ReceiveStep.Reach => $"the TTL ran out before {them}",
            ReceiveStep.MessageCache => $"{takes} the message for one heard before (network message cache)",
            ReceiveStep.Segments => $"not all segments came together at {them}",
            ReceiveStep.ReplayProtection => $"{takes} the message for a replay: SEQ {view.Seq} is not above {view.SeqReceivedBefore}, which came before",
            ReceiveStep.ReplayListSpace => $"{their} replay protection list has no room for this sender",
            ReceiveStep.AppKey => $"{they} {have} not the application key",
            ReceiveStep.Model => $"{they} {have} no server model for this message",
            ReceiveStep.Address => $"{their} model does not subscribe to this address",
            ReceiveStep.Binding => $"the application key is not bound to {their} model",
            _ => $"{takes} the press for a repetition of the one before (same TID)",
        };
    }
}
