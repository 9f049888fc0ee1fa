using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Reports.Words;

/// <summary>Where there are several receivers: how their clocks were aligned, and which of them hears which node how well.</summary>
internal static class ReceiverSection
{
    private const int MostReceivers = 8, MostNodes = 60;

    /// <summary>From here on a number of parts per million is worth a decimal less.</summary>
    private const double ManyPpm = 100;

    public static void Write(Paper paper, Account account)
    {
        CaptureHistory history = account.History;
        if (history.Receivers.Count < 2)
            return;
        paper.Heading($"Receivers: {Phrases.Number(history.Receivers.Count)}");
        foreach (ReceiverDescription receiver in history.Receivers.Take(MostReceivers))
            paper.Paragraph($"{NameOf(receiver)}: {ClockWords(receiver.Clock)}.", Invariant($"  {receiver.Index + 1}. "));
        if (history.Receivers.Count > MostReceivers)
            paper.Paragraph($"{Phrases.Number(history.Receivers.Count - MostReceivers)} more: the first line of 'meshtrace records' names all.", tone: Tone.Quiet);
        WriteNodes(paper, account);
    }

    private static string NameOf(ReceiverDescription receiver) => SafeText.Strip(
        receiver.Interface is { Length: > 0 } own ? $"{own} ({Path.GetFileName(receiver.File)})" : Path.GetFileName(receiver.File), 100);

    private static string ClockWords(ReceiverClock? clock) => clock switch
    {
        null => "its own clock",
        { Basis: ClockBasis.Reference } => "all times are told in its clock",
        { Basis: ClockBasis.Given } => $"its clock is {Apart(clock.OffsetNs)}, as given",
        { Basis: ClockBasis.Aligned } => $"its clock was {Apart(clock.OffsetNs)} at its first frame and runs {Drift(clock.DriftPpm)}; "
            + $"{Phrases.Number(clock.Pairs)} hearings shared with others then agree within {Short(clock.MedianResidualNs)} (half of them), {Short(clock.LargeResidualNs)} (95%)",
        _ => $"its times stand as they are: {clock.Says}",
    };

    private static string Apart(long offsetNs) => Invariant($"{Math.Abs(offsetNs) / 1e9:0.000000} s {(offsetNs < 0 ? "behind" : "ahead")}");

    private static string Drift(double ppm) => Math.Abs(ppm) < 0.05 ? "as fast"
        : Math.Abs(ppm) < ManyPpm ? Invariant($"{Math.Abs(ppm):0.0} ppm {(ppm < 0 ? "slower" : "faster")}")
        : Invariant($"{Math.Abs(ppm):0} ppm {(ppm < 0 ? "slower" : "faster")}");

    private static string Short(long ns) => Invariant($"{Math.Ceiling(ns / 1e3):0} µs");

    private static void WriteNodes(Paper paper, Account account)
    {
        Dictionary<ushort, NodeAtReceivers> heard = Count(account);
        if (heard.Count == 0)
            return;
        int receivers = Math.Min(MostReceivers, account.History.Receivers.Count);
        const int Column = 10;
        int name = Math.Clamp(heard.Keys.Max(node => DisplayWidth.Of(account.Names.Short(new MeshAddress(node)))), 4, Math.Max(8, paper.Columns - 4 - (receivers * Column)));
        string Row(string first, Func<int, string> cell) => $"  {DisplayWidth.Fit(first, name)}" + string.Concat(Enumerable.Range(0, receivers).Select(at => DisplayWidth.Fit(cell(at), Column, alignRight: true)));
        paper.Line(new Cell(Row("node", at => Invariant($"{at + 1}.")), Tone.Quiet));
        foreach ((ushort node, NodeAtReceivers at) in heard.OrderBy(entry => entry.Key).Take(MostNodes))
            paper.Line(new Cell(Row(account.Names.Short(new MeshAddress(node)), at.Words)));
        if (heard.Count > MostNodes)
            paper.Paragraph($"{Phrases.Number(heard.Count - MostNodes)} more nodes.", tone: Tone.Quiet);
        paper.Paragraph("By receiver: of the node's Network PDUs that any receiver heard from the node itself, the share that this one heard; median signal in dBm.", tone: Tone.Quiet);
    }

    /// <summary>Only copies that the node itself most likely sent.</summary>
    private static Dictionary<ushort, NodeAtReceivers> Count(Account account)
    {
        CaptureHistory history = account.History;
        int receivers = Math.Min(MostReceivers, history.Receivers.Count);
        var heard = new Dictionary<ushort, NodeAtReceivers>();
        for (int flood = 0; flood < history.Floods.Count; flood++)
        {
            NodeAtReceivers? node = null;
            int by = 0;
            MeshAddress own = history.Directory.NodeOf(history.Floods[flood].Src);
            foreach (FloodCopy copy in history.CopiesOf(flood))
            {
                ref readonly FrameRow frame = ref history.Frames[copy.Frame];
                if (copy.Bearer != Bearer.Advertising || history.SenderOf(copy) != own || frame.Receiver >= receivers)
                    continue;
                if (node is null && !heard.TryGetValue(own.Value, out node))
                    heard.Add(own.Value, node = new NodeAtReceivers(receivers));
                by |= 1 << frame.Receiver;
                if (frame.Rssi is { } rssi)
                    node.Signals[frame.Receiver][rssi - sbyte.MinValue]++;
            }
            node?.Take(by);
        }
        return heard;
    }

    private static string Invariant(FormattableString text) => FormattableString.Invariant(text);

    private sealed class NodeAtReceivers(int receivers)
    {
        private readonly int[] _floods = new int[receivers];
        private int _all;

        public int[][] Signals { get; } = [.. Enumerable.Range(0, receivers).Select(_ => new int[256])];

        public void Take(int by)
        {
            _all++;
            for (int at = 0; at < _floods.Length; at++)
                _floods[at] += (by >> at) & 1;
        }

        public string Words(int at)
        {
            if (_floods[at] == 0)
                return "-";
            string share = Phrases.Percent(_floods[at] / (double)_all).Replace(" ", "", StringComparison.Ordinal).Replace("under", "<", StringComparison.Ordinal).Replace("over", ">", StringComparison.Ordinal);
            int half = (Signals[at].Sum() + 1) / 2, seen = 0;
            for (int signal = 0; half > 0 && signal < Signals[at].Length; signal++)
                if ((seen += Signals[at][signal]) >= half)
                    return Invariant($"{share} {signal + sbyte.MinValue}");
            return share;
        }
    }
}
