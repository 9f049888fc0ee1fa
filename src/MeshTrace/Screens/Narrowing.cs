using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;
using MeshTrace.Reports.Words;

namespace MeshTrace.Screens;

/// <summary>What the screens are narrowed to: one node, one group, one press, a time range; those that are set hold together.</summary>
internal sealed record Narrowing
{
    public static readonly Narrowing None = new();

    /// <summary>Primary address of a node.</summary>
    public MeshAddress? Node { get; init; }

    /// <summary>Group or virtual address.</summary>
    public MeshAddress? Group { get; init; }

    /// <summary>Row of a press.</summary>
    public int? Press { get; init; }

    /// <summary>First and last nanosecond.</summary>
    public (long From, long To)? Time { get; init; }

    public bool IsNone => this == None;

    /// <summary>For the line that always shows it.</summary>
    public string Say(Account account)
    {
        var parts = new List<string>();
        if (Press is { } row && row < account.History.Presses.Count)
            parts.Add($"press {row + 1} of {Phrases.Clock(account.History.Presses[row].TimeNs)}");
        if (Node is { } node)
            parts.Add($"node {DisplayWidth.Isolate(account.Names.Full(node))}");
        if (Group is { } group)
            parts.Add($"group {DisplayWidth.Isolate(account.Names.Full(group))}");
        if (Time is { } time)
            parts.Add($"{Exact(time.From)} to {Exact(time.To)}");
        return string.Join(", ", parts);
    }

    public bool Takes(CaptureHistory history, int row, Press press)
    {
        if ((Press is { } only && only != row) || !Near(press.TimeNs) || (Group is { } group && press.Dst != group))
            return false;
        return Node is not { } node || IsOf(history.Directory, node, press.Src) || IsOf(history.Directory, node, press.Dst)
            || (press.Expected is { } expected && expected.Any(element => IsOf(history.Directory, node, element)));
    }

    /// <summary>Floods of the press are its requests and answers.</summary>
    public bool Takes(CaptureHistory history, in FloodRow flood)
    {
        if (!Near(flood.FirstTimeNs) || (Group is { } group && flood.Dst != group))
            return false;
        if (Press is { } press && (flood.Message is not { } message || !IsOfPress(history.Presses[press], message)))
            return false;
        return Node is not { } node || IsOf(history.Directory, node, flood.Src) || IsOf(history.Directory, node, flood.Dst);
    }

    public bool Takes(CaptureHistory history, Transfer transfer)
    {
        if ((Group is { } group && transfer.Dst != group) || (Press is { } press && !IsOfPress(history.Presses[press], transfer.Message)))
            return false;
        if (Time is { } time && transfer.FirstTimeNs != CapturedFrame.NoTime && (transfer.LastTimeNs < time.From || transfer.FirstTimeNs > time.To))
            return false;
        return Node is not { } node || IsOf(history.Directory, node, transfer.Src) || IsOf(history.Directory, node, transfer.Dst);
    }

    public bool Takes(CaptureHistory history, NodeRecord record)
    {
        if (Node is { } node && record.Unicast != node)
            return false;
        if (Press is not { } row)
            return true;
        Press press = history.Presses[row];
        return IsOf(history.Directory, record.Unicast, press.Src) || IsOf(history.Directory, record.Unicast, press.Dst)
            || (press.Expected is { } expected && expected.Any(element => IsOf(history.Directory, record.Unicast, element)));
    }

    private static bool IsOfPress(Press press, int message) => press.Messages.Contains(message) || press.Answers.Exists(answer => answer.Message == message);

    private static bool IsOf(NodeDirectory directory, MeshAddress node, MeshAddress element) => element.IsUnicast && directory.NodeOf(element) == node;

    /// <summary>Whole seconds without their zeros.</summary>
    private static string Exact(long timeNs) => timeNs % 1_000_000_000 == 0 ? Phrases.Clock(timeNs) : Moment.Milli(timeNs);

    private bool Near(long timeNs) => Time is not { } time || timeNs == CapturedFrame.NoTime || (timeNs >= time.From && timeNs <= time.To);
}
