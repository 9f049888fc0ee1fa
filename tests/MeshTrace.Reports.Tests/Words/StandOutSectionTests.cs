using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;
using MeshTrace.Reports.Tests.Support;

namespace MeshTrace.Reports.Tests.Words;

/// <summary>Findings stand by the presses they cost, then by node, then those of the whole; worst first, the same said once.</summary>
public sealed class StandOutSectionTests
{
    private readonly Story _story = new();

    [Fact]
    public void TheSame_IsSaidOnce_WorstFirst_UnderTheNodeItIsAbout()
    {
        _story.History.OpenedNetworkPdus = 1;
        _story.History.Findings = [
            Found("sent-once-only", Severity.Warning, "It sends once.", node: 9), Found("config-refused", Severity.Fault, "It refused.", node: 9), Found("config-refused", Severity.Fault, "It refused.", node: 9),
            Found("unknown-network", Severity.Remark, "Another network is near."),
        ];
        string account = Unwrapped();
        Assert.Contains("What stands out 0x0009 - Fault (likely), config-refused (2 times): It refused. What to do: Do this. - Warning (likely), sent-once-only: It sends once. What to do: Do this. "
            + "The network and the capture - Remark (likely), unknown-network: Another network is near. What to do: Do this.", account, StringComparison.Ordinal);
    }

    [Fact]
    public void PressesOfOnePanelToOneGroup_AreOneGroup_WithTheirTimesAndEvidence()
    {
        _story.History.OpenedNetworkPdus = 1;
        _story.History.Presses = [
            Story.Press(PressOutcome.None, [0x0009], []), Story.Press(PressOutcome.All, [0x0009], [0x0009]), Story.Press(PressOutcome.None, [0x0009], [], "off", timeNs: Story.Begin + (60 * Story.Second)),
        ];
        _story.History.Findings = [Found("ttl-exhausted", Severity.Fault, "TTL 2, but it is three hops away.", presses: [0, 2])];
        _story.History.Presses[0].Findings.Add(0);
        _story.History.Presses[2].Findings.Add(0);
        string account = Unwrapped();
        Assert.Contains("0x0003 > 0xC001 - Fault (likely), ttl-exhausted (18:00:00 on and 18:01:00 off): TTL 2, but it is three hops away. What to do: Do this. It rests on presses 1 and 3.", account, StringComparison.Ordinal);
        Assert.DoesNotContain("no finding explains it", account, StringComparison.Ordinal);
    }

    [Fact]
    public void ALostPressWithoutFinding_SaysOfEachSilentOneWhatIsKnown()
    {
        _story.History.OpenedNetworkPdus = 1;
        _story.History.Presses = [Story.Press(PressOutcome.None, [0x0009, 0x000A], [])];
        Assert.Contains("Not answered by all, and no finding explains it - 18:00:00 0x0003 > 0xC001, on: 0x0009 and 0x000A: cannot be told", Unwrapped(), StringComparison.Ordinal);
    }

    /// <summary>An answer counts for the newest press it fits: of the same request made twice, the older one seems to have none.</summary>
    [Fact]
    public void AnAnswerToTheSameRequestBeside_MayDoForBoth()
    {
        _story.History.OpenedNetworkPdus = 1;
        _story.History.Presses = [Story.Press(PressOutcome.None, [0x0009], []), Story.Press(PressOutcome.All, [0x0009], [0x0009], timeNs: Story.Begin + (Story.Second / 5))];
        Assert.Contains("0x0009: its answer to the same request right beside this one was heard, and may do for both.", Unwrapped(), StringComparison.Ordinal);
        Assert.DoesNotContain("may do for both", Unwrapped([Story.Press(PressOutcome.None, [0x0009], []), Story.Press(PressOutcome.All, [0x0009], [0x0009], "off", timeNs: Story.Begin + (Story.Second / 5))]), StringComparison.Ordinal);
    }

    [Fact]
    public void MoreGroupsThanFit_AreCounted()
    {
        _story.History.OpenedNetworkPdus = 1;
        _story.History.Findings = [.. Enumerable.Range(1, 20).Select(node => Found("config-refused", Severity.Fault, "It refused.", (ushort)node))];
        Assert.Contains("8 more nodes with findings.", Unwrapped(), StringComparison.Ordinal);
    }

    private string Unwrapped(Press[] presses)
    {
        _story.History.Presses = presses;
        return Unwrapped();
    }

    private string Unwrapped() => string.Join(' ', _story.Explain().Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));

    private static Finding Found(string id, Severity severity, string says, ushort? node = null, int[]? presses = null) => new()
    {
        Id = id, Severity = severity, Confidence = Confidence.Likely, TimeNs = Story.Begin, Says = says, Remedy = "Do this.", Node = node is { } address ? new MeshAddress(address) : null,
        Press = presses?[0], Presses = presses ?? [], Evidence = [.. (presses ?? []).Select(press => new Evidence("press", press))],
    };
}
