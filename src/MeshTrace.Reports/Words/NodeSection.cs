using System.Globalization;
using MeshTrace.Analysis.Beacons;
using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Nodes;

namespace MeshTrace.Reports.Words;

/// <summary>The nodes that were heard, those that were not, and devices that wait to join.</summary>
internal static class NodeSection
{
    private const int MostNodes = 60;
    private const int MostDevices = 8;

    public static void Write(Paper paper, Account account)
    {
        IReadOnlyList<NodeRecord> nodes = account.History.Nodes;
        List<NodeRecord> heard = nodes.Where(Heard).ToList();
        if (heard.Count > 0)
            WriteTable(paper, account, heard);
        List<string> unheard = nodes.Where(node => !Heard(node)).Select(node => account.Names.Full(node.Unicast)).ToList();
        if (unheard.Count > 0 && heard.Count > 0)
            paper.Paragraph($"Described but not heard: {Phrases.List(unheard, MostNodes)}.", tone: Tone.Quiet);
        WriteJoining(paper, account);
    }

    private static bool Heard(NodeRecord node) => node.FloodsSent > 0 || node.FloodsRelayed > 0;

    private static void WriteTable(Paper paper, Account account, List<NodeRecord> heard)
    {
        const int Number = 7, Address = 7;
        paper.Heading($"Nodes heard: {Phrases.Number(heard.Count)}");
        int name = Math.Clamp(heard.Max(node => DisplayWidth.Of(NameOf(node, account))), 4, Math.Max(8, paper.Columns - 2 - 2 - Address - (5 * (Number + 1))));
        string Right(string text) => " " + DisplayWidth.Fit(text, Number, alignRight: true);
        paper.Line(new Cell($"  {DisplayWidth.Fit("name", name)}  address{Right("sent")}{Right("relayed")}{Right("copies")}{Right("heard")}{Right("signal")}", Tone.Quiet));
        foreach (NodeRecord node in heard.Take(MostNodes))
        {
            paper.Line(new Cell($"  {DisplayWidth.Fit(NameOf(node, account), name)}  {node.Unicast} "
                + Right(Phrases.Number(node.FloodsSent)) + Right(Phrases.Number(node.FloodsRelayed))
                + Right(node.CopiesPerPdu?.ToString("0.0", CultureInfo.InvariantCulture) ?? "-")
                + Right(Share(account.ShareHeard(node)))
                + Right(node.RssiMedian?.ToString(CultureInfo.InvariantCulture) ?? "-")));
        }
        if (heard.Count > MostNodes)
            paper.Paragraph($"{Phrases.Number(heard.Count - MostNodes)} more: 'meshtrace records --only node' lists all.", tone: Tone.Quiet);
        paper.Paragraph("sent, relayed: Network PDUs; copies: heard of each; heard: the share of its PDUs that this receiver caught, estimated; signal: median in dBm.", tone: Tone.Quiet);
        List<string> relayed = heard.Where(node => node is { HeardShare: 0, FloodsSent: > 0 }).Select(node => account.Names.Short(node.Unicast)).ToList();
        if (relayed.Count > 0)
            paper.Paragraph($"Heard only through relays: {Phrases.List(relayed, MostDevices)}.", tone: Tone.Quiet);
    }

    /// <summary>A share short enough for a column: "92%", "&lt;0.1%".</summary>
    private static string Share(double? share) => share is not { } known ? "-"
        : Phrases.Percent(known).Replace(" ", "", StringComparison.Ordinal).Replace("under", "<", StringComparison.Ordinal).Replace("over", ">", StringComparison.Ordinal);

    private static string NameOf(NodeRecord node, Account account) => account.Names.Short(node.Unicast) is var name && name == node.Unicast.ToString() ? "-" : name;

    private static void WriteJoining(Paper paper, Account account)
    {
        List<BeaconRecord> waiting = account.History.Beacons.Where(beacon => beacon.Kind == BeaconKind.Unprovisioned).ToList();
        IReadOnlyList<ProvisioningLink> links = account.History.Provisionings;
        if (waiting.Count == 0 && links.Count == 0)
            return;
        paper.Heading("Joining the network");
        foreach (ProvisioningLink link in links)
            paper.Paragraph(Joining(link), $"  {MarkOf(link.Outcome),-5}", markTone: ToneOf(link.Outcome));
        if (waiting.Count > 0)
            paper.Paragraph($"{Phrases.Count(waiting.Count, "device")} seen that {(waiting.Count == 1 ? "waits" : "wait")} to be provisioned: {Phrases.List(waiting.Select(beacon => beacon.DeviceUuid?.ToString() ?? "without UUID").ToList(), MostDevices)}.");
    }

    internal static string Joining(ProvisioningLink link)
    {
        string device = link.DeviceUuid is { } uuid ? $"device {uuid}" : "a device";
        string outcome = link.Outcome switch
        {
            ProvisioningOutcome.Complete => "provisioned" + (link.Unicast is { } unicast ? $" as {unicast}" : ""),
            ProvisioningOutcome.Failed => "provisioning failed",
            ProvisioningOutcome.Closed => "the link was closed before provisioning was complete",
            _ => "the end of provisioning was not heard",
        };
        string reason = SafeText.Strip(link.Reason, 200) is { Length: > 0 } why ? $" ({why})" : "";
        string last = link.Outcome != ProvisioningOutcome.Complete && link.Pdus.Count > 0 ? $"; last PDU heard: {link.Pdus[^1].Name}" : "";
        string keys = link.KeysLearnt ? "; its keys were learnt from it" : "";
        return $"{Phrases.Clock(link.FirstTimeNs)}  {device}: {outcome}{reason}{last}{keys}";
    }

    internal static string MarkOf(ProvisioningOutcome outcome) => outcome switch
    {
        ProvisioningOutcome.Complete => "OK",
        ProvisioningOutcome.Failed => "FAIL",
        ProvisioningOutcome.Closed => "PART",
        _ => "?",
    };

    internal static Tone ToneOf(ProvisioningOutcome outcome) => outcome switch
    {
        ProvisioningOutcome.Complete => Tone.Good,
        ProvisioningOutcome.Failed => Tone.Bad,
        ProvisioningOutcome.Closed => Tone.Mixed,
        _ => Tone.Quiet,
    };
}
