using System.Collections.Concurrent;
using System.Globalization;
using MeshTrace.Analysis.Findings;

namespace MeshTrace.Benchmarks.Accuracy;

/// <summary>Tries every finding on networks that nobody tuned for: the fault's capture and its healthy twin.</summary>
internal sealed class AccuracyRun(ulong seed, int networks, string? only)
{
    private readonly ConcurrentDictionary<(int Index, Needs Needs), Lazy<bool>> _twins = new();
    private readonly object _lock = new();
    private readonly Dictionary<string, Tally> _tallies = [];

    public ulong Seed { get; } = seed;
    public int Networks { get; } = networks;
    public HopMeasure Hops { get; } = new();
    public List<Complaint> Complaints { get; } = [];

    /// <summary>Healthy networks that were composed.</summary>
    public int Twins => _twins.Count;

    /// <summary>Of those, how many in each band of the share of PDUs heard.</summary>
    public int[] TwinsByBand { get; } = new int[Tally.Bands];

    public IReadOnlyDictionary<string, Tally> Tallies => _tallies;

    public void Run()
    {
        List<(FaultCase Case, int Index)> work = [.. FaultCases.All.Where(one => only is null || one.Id == only)
            .SelectMany(one => Enumerable.Range(0, Networks), (one, index) => (one, index))];
        foreach (FaultCase one in FaultCases.All.Where(one => only is null || one.Id == only))
            TallyOf(one.Id);
        Parallel.ForEach(work, new ParallelOptions { MaxDegreeOfParallelism = Environment.ProcessorCount }, item => Try(item.Case, item.Index));
    }

    private Tally TallyOf(string id)
    {
        if (!_tallies.TryGetValue(id, out Tally? tally))
            _tallies.Add(id, tally = new Tally(id));
        return tally;
    }

    private void Try(FaultCase one, int index)
    {
        DrawnNetwork network = NetworkDrawing.Draw(Seed, index, one.Needs);
        _ = _twins.GetOrAdd((index, one.Needs), _ => new Lazy<bool>(() => TryTwin(network))).Value;
        Composition faulty = Composition.Of(network, one.Faults(network));
        HashSet<DrawnNode>? named = one.Names is { } names ? [.. names(network)] : null;
        bool found = faulty.History.Findings.Any(finding => finding.Id == one.Id
            && (named is null || finding.Node is not { } address || (network.Owner(address.Value) is { } node && named.Contains(node))));
        Verdict verdict = found ? Verdict.Found : one.Evidence(faulty) ? Verdict.Missed : Verdict.Withheld;
        lock (_lock)
        {
            TallyOf(one.Id).Add(verdict, faulty.Truth.HeardShare);
            if (verdict == Verdict.Missed)
                Complaints.Add(new Complaint(one.Id, network, one.Id, string.Create(CultureInfo.InvariantCulture, $"missed: {one.EvidenceIs}; {faulty.Truth.HeardShare:P0} of the PDUs heard")));
            Judge(faulty, one.Id);
        }
    }

    private bool TryTwin(DrawnNetwork network)
    {
        Composition healthy = Composition.Of(network);
        lock (_lock)
        {
            Judge(healthy, "healthy");
            Hops.Take(healthy);
            TwinsByBand[Tally.BandOf(healthy.Truth.HeardShare)]++;
        }
        return true;
    }

    /// <summary>Remarks count too where a capture holds a fault: they would send its reader the wrong way.</summary>
    private void Judge(Composition composed, string what)
    {
        var judge = new TruthJudge(composed);
        foreach (IGrouping<string, Finding> group in composed.History.Findings.Where(finding => Tally.Counts(finding) || what != "healthy").GroupBy(finding => finding.Id))
        {
            foreach (Finding finding in group)
            {
                if (judge.Contradicts(finding) is not { } why)
                    continue;
                Tally tally = TallyOf(group.Key);
                tally.Wrong++;
                tally.WrongOnHealthy += what == "healthy" ? 1 : 0;
                Complaints.Add(new Complaint(what, composed.Network, group.Key, string.Create(CultureInfo.InvariantCulture, $"{why}; {composed.Truth.HeardShare:P0} of the PDUs heard; it says ({finding.Confidence}, {finding.Node}): {finding.Says}")));
                break;
            }
        }
    }
}
