using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Findings.Rules.Presses;

/// <summary>At one place each flood is repeated by many relays, for a long time, or in many copies.</summary>
internal sealed class RelayCrowding : IFindingRule
{
    /// <summary>More of them, of a quarter of all floods, crowd the air (ours; the figures stand in the sentence).</summary>
    private const int MostRelays = 6, MostCopies = 40;
    private const double MostLengthMs = 300;

    /// <summary>Floods looked at, and least floods that tell something (ours).</summary>
    private const int Sample = 400, Enough = 20;

    /// <summary>An advertiser address counts as a relay if it relays in so many of them: addresses that change with each PDU count for nobody (ours).</summary>
    private const int Again = 2;

    /// <summary>Packets of one advertising event on the three channels follow each other so fast; repeats are at least 10 ms apart (Mesh Protocol 1.1 §4.2.20).</summary>
    private const long SameEventNs = 2_000_000;

    public string Id => "relay-crowding";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        (int receiver, int packets) = FloodSample.BestReceiver(history);
        var relayed = new Dictionary<ulong, int>();
        var floods = new List<(int Row, HashSet<ulong> Relays, int Copies, long LengthNs)>();
        foreach (int row in FloodSample.Of(history, Sample))
        {
            if (history.Floods[row].HighestTtl < 2 && history.Floods[row].LowestTtl == history.Floods[row].HighestTtl)
                continue;
            var flood = Look(history, row, receiver);
            if (flood.Copies == 0)
                continue;
            floods.Add((row, flood.Relays, flood.Copies / packets, flood.LengthNs));
            foreach (ulong advertiser in flood.Relays)
                relayed[advertiser] = relayed.GetValueOrDefault(advertiser) + 1;
        }
        if (floods.Count < Enough)
            return;
        int relays = UpperQuarter(floods.Select(flood => (long)flood.Relays.Count(advertiser => relayed[advertiser] >= Again))) is var count ? (int)count : 0;
        int copies = (int)UpperQuarter(floods.Select(flood => (long)flood.Copies));
        double lengthMs = UpperQuarter(floods.Select(flood => flood.LengthNs)) / 1e6;
        if (relays <= MostRelays && copies <= MostCopies && lengthMs <= MostLengthMs)
            return;
        string over = relays > MostRelays ? $"more than {MostRelays} relays" : copies > MostCopies ? $"more than {MostCopies} copies" : $"more than {FindingWords.Number(MostLengthMs)} ms";
        findings.Add(Id, Confidence.Likely, history.Floods[floods[0].Row].FirstTimeNs, null, null,
            $"Where the receiver stood, a quarter of {floods.Count} floods were repeated by {relays} relays or more, in {copies} copies a channel over {FindingWords.Number(lengthMs)} ms ({over} crowd the air).",
            [.. floods.OrderByDescending(flood => flood.Copies).Take(16).Select(flood => new Evidence("flood", flood.Row))]);
    }

    private static (HashSet<ulong> Relays, int Copies, long LengthNs) Look(CaptureHistory history, int row, int receiver)
    {
        ref FloodRow flood = ref history.Floods[row];
        var relays = new HashSet<ulong>();
        var before = new Dictionary<(ulong Advertiser, byte Ttl), long>();
        int copies = 0;
        long first = long.MaxValue, last = long.MinValue;
        foreach (FloodCopy copy in history.CopiesOf(row))
        {
            ref FrameRow frame = ref history.Frames[copy.Frame];
            if (frame.Receiver != receiver)
                continue;
            // Where channels are not told, packets of one event on several channels show by their time.
            if (frame.Channel is not null || !before.TryGetValue((frame.Advertiser, copy.Ttl), out long previous) || frame.TimeNs - previous > SameEventNs)
                copies++;
            before[(frame.Advertiser, copy.Ttl)] = frame.TimeNs;
            (first, last) = (Math.Min(first, frame.TimeNs), Math.Max(last, frame.TimeNs));
            if (copy.Ttl < flood.HighestTtl && frame.HasAdvertiser)
                relays.Add(frame.Advertiser);
        }
        return (relays, copies, copies == 0 ? 0 : last - first);
    }

    private static long UpperQuarter(IEnumerable<long> values)
    {
        long[] sorted = [.. values.Order()];
        return sorted[sorted.Length * 3 / 4];
    }
}
