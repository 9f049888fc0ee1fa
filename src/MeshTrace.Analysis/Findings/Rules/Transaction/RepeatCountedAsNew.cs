using System.Globalization;
using System.Runtime.InteropServices;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings.Rules.Transaction;

/// <summary>A machine repeats a request with a new TID each time: servers carry each out (Mesh Model 1.1 §3.3).</summary>
internal sealed class RepeatCountedAsNew : IFindingRule
{
    /// <summary>One request and two repetitions (ours).</summary>
    private const int EnoughRequests = 3;

    /// <summary>Publish Retransmit sends 8 at most (Mesh Protocol 1.1 §4.2.3); a longer row is somebody who holds a button.</summary>
    private const int MostRequests = 8;

    /// <summary>Longest distance of two (ours).</summary>
    private const double MostMs = 1_000;

    /// <summary>No hand is so even (ours).</summary>
    private const double EvenMs = 10;

    /// <summary>The first copy heard may be a later transmission of the PDU: with that spread, several rows must agree (ours).</summary>
    private const double HeardEvenMs = 60;
    private const int EnoughRows = 3;

    public string Id => "repeat-counted-as-new";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        var open = new Dictionary<(ushort Src, ushort Dst, uint Opcode), (int Last, List<int>? Row)>();
        var rows = new List<List<int>>();
        for (int row = 0; row < history.Presses.Count; row++)
        {
            Press press = history.Presses[row];
            ref (int Last, List<int>? Row) going = ref CollectionsMarshal.GetValueRefOrAddDefault(open, (press.Src.Value, press.Dst.Value, press.Opcode.Value), out bool any);
            if (!any || !Continues(history, going.Last, row))
            {
                going = (row, null);        // most presses stand alone
                continue;
            }
            if (going.Row is null)
                rows.Add(going.Row = [going.Last]);
            going.Row.Add(row);
            going.Last = row;
        }
        rows.Sort((one, other) => one[0].CompareTo(other[0]));
        foreach (IGrouping<MeshAddress, List<int>> node in rows.Where(row => row.Count is >= EnoughRequests and <= MostRequests).GroupBy(row => history.Directory.NodeOf(history.Presses[row[0]].Src)))
            Judge(history, findings, node.Key, [.. node]);
    }

    /// <summary>The same request with the next TID, soon after.</summary>
    private static bool Continues(CaptureHistory history, int before, int row)
    {
        Press one = history.Presses[before], other = history.Presses[row];
        if (one.TimeNs == CapturedFrame.NoTime || other.TimeNs == CapturedFrame.NoTime || other.Tid != unchecked((byte)(one.Tid + 1)) || GapMs(history, before, row) is < 0 or > MostMs
            || RequestKind.Find(one.Opcode) is not { } kind)
            return false;
        return kind.TryRead(history.PayloadOf(one.Messages[0]), out ReadOnlySpan<byte> asked, out _)
            && kind.TryRead(history.PayloadOf(other.Messages[0]), out ReadOnlySpan<byte> again, out _) && asked.SequenceEqual(again);
    }

    private static double GapMs(CaptureHistory history, int before, int row) => Wording.Seconds(history.Presses[before].TimeNs, history.Presses[row].TimeNs) * 1000;

    private static List<double> GapsMs(CaptureHistory history, List<int> row) => [.. row.Zip(row.Skip(1), (before, after) => GapMs(history, before, after))];

    private void Judge(CaptureHistory history, FindingSink findings, MeshAddress node, List<List<int>> rows)
    {
        List<List<int>> machines = [.. rows.Where(row => Spread(GapsMs(history, row)) <= EvenMs)];
        // With fewer transmissions heard the rows are less even, but then they must all be alike.
        if (machines.Count == 0 && rows.Count >= EnoughRows && rows.TrueForAll(row => row.Count == rows[0].Count) && Spread(rows.SelectMany(row => GapsMs(history, row))) <= HeardEvenMs)
            machines = rows;
        if (machines.Count == 0)
            return;
        List<double> gaps = GapsMs(history, machines[0]);
        Press press = history.Presses[machines[0][0]];
        // A dimmer that is held sends equal steps evenly too.
        bool steps = machines.TrueForAll(row => history.Presses[row[0]].Asks.StartsWith("level by", StringComparison.Ordinal));
        string often = machines.Count > 1 ? $" ({Wording.Times(machines.Count)} in this capture)" : "";
        findings.AddOver(Id, steps || machines.Count == 1 ? Confidence.Possible : Confidence.Likely, press.TimeNs, node, [.. machines.SelectMany(row => row)],
            string.Create(CultureInfo.InvariantCulture,
                $"{history.Called(press.Src)} sends \"{press.Asks}\" {machines[0].Count} times, {gaps.Average():0} ms apart, with a new TID each time{often}: so evenly only a machine repeats, and servers carry each out."),
            [.. machines.SelectMany(row => row).Select(row => new Evidence("press", row))]);
    }

    private static double Spread(IEnumerable<double> gaps) => gaps.Max() - gaps.Min();
}
