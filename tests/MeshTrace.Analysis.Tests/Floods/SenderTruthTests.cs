using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Tests.Support;
using Xunit.Abstractions;

namespace MeshTrace.Analysis.Tests.Floods;

/// <summary>Who sent each copy, against simulated networks of which it is known.</summary>
public sealed class SenderTruthTests(ITestOutputHelper output)
{
    /// <summary>"Right for at least 95 % of copies": sender and hop, with stable addresses and a description.</summary>
    private const double MostlyRight = 0.95;

    /// <summary>A wrong name is worse than none.</summary>
    private const double HardlyWrong = 0.005;

    public static TheoryData<int, int, double, string, double> Sizes => new()
    {
        { 4, 2, 25, "three", 1.0 },
        { 12, 3, 60, "hop", 0.4 },
        { 30, 4, 150, "three", 0.6 },
        { 20, 3, 200, "37", 0.7 },
    };

    [Theory, MemberData(nameof(Sizes))]
    public void StableAddresses_SenderAndHopAreRight_OfNearlyAllCopies(int lamps, int panels, double length, string channels, double heard)
    {
        foreach ((int seed, double at) in ((int, double)[])[(1, 0.05), (2, 0.5), (3, 0.9)])
        {
            Tally tally = Count(Of(lamps, panels, length, channels, heard, seed, at) with { Ttls = [4, 5, 5, 6, 7] }, described: true);
            Assert.True(tally.Right >= MostlyRight * tally.Copies, tally.ToString());
            Assert.True(tally.Wrong + tally.HopsWrong <= HardlyWrong * tally.Copies, tally.ToString());
        }
    }

    [Theory, MemberData(nameof(Sizes))]
    public void WithoutDescription_HardlyAnyNameIsWrong(int lamps, int panels, double length, string channels, double heard)
    {
        foreach (string address in (string[])["static", "rotating", "each"])
        {
            foreach (int[] ttls in (int[][])[[5], [4, 5, 5, 6, 7]])
            {
                Tally tally = Count(Of(lamps, panels, length, channels, heard, seed: 4, at: 0.3) with { Address = address, Ttls = ttls }, described: false);
                output.WriteLine($"{address} {string.Join(' ', ttls)}");
                Assert.True(tally.Wrong <= HardlyWrong * tally.Copies, tally.ToString());
            }
        }
    }

    [Theory]
    [InlineData("rotating", 0.8)]
    [InlineData("each", 0.05)]
    public void ChangingAddresses_AreUnknown_NotWrong(string address, double named)
    {
        for (int seed = 1; seed <= 3; seed++)
        {
            Tally tally = Count(Of(16, 3, 80, "three", 0.6, seed, 0.3) with { Address = address }, described: true);
            Assert.True(tally.Wrong <= HardlyWrong * tally.Copies && tally.HopsWrong <= HardlyWrong * tally.Copies, tally.ToString());
            Assert.True(tally.Named >= named * tally.Copies, tally.ToString());
        }
    }

    /// <summary>The description says TTL 5, two nodes send with less: what it says may be out of date.</summary>
    [Theory]
    [InlineData("static")]
    [InlineData("rotating")]
    [InlineData("each")]
    public void ADescriptionOutOfDate_DoesNotMislead(string address)
    {
        const string stale = """
            {"fault": "ttl-exhausted", "node": "panel 1", "ttl": 3, "described": false}, {"fault": "ttl-exhausted", "node": "lamp 2", "ttl": 4, "described": false}
            """;
        Tally tally = Count(Of(16, 3, 80, "three", 0.8, 5, 0.4) with { Address = address, Faults = stale }, described: true);
        Assert.True(tally.Wrong <= HardlyWrong * tally.Copies && tally.HopsWrong <= HardlyWrong * tally.Copies, tally.ToString());
    }

    private static Building Of(int lamps, int panels, double length, string channels, double heard, int seed, double at) => new()
    {
        Lamps = lamps, Panels = panels, LengthM = length, Channels = channels, HeardShare = heard, Seed = seed, ReceiverAt = at,
        SensitivityDbm = at < 0.3 ? -88 : -97,
    };

    private Tally Count(Building building, bool described)
    {
        ComposedNetwork network = ComposedNetwork.Of(building.ToScenario(), described);
        var truth = new CopyTruth(network);
        CaptureHistory history = network.History;
        var tally = new Tally();
        for (int flood = 0; flood < history.Floods.Count; flood++)
        {
            SentFlood sent = truth.Of(flood);
            foreach (FloodCopy copy in history.CopiesOf(flood))
            {
                if (truth.SenderOf(sent, copy) is not { } by)
                    continue;       // two events so near that the truth itself cannot tell
                string? name = history.SenderOf(copy) is { } sender ? network.NameOf(sender) : null;
                tally.Add(name, by, history.HopOf(flood, copy), sent.Ttl - copy.Ttl);
            }
        }
        output.WriteLine(tally.ToString());
        return tally;
    }

    private sealed record Tally
    {
        public int Copies { get; private set; }
        public int Named { get; private set; }
        public int Wrong { get; private set; }
        public int Hops { get; private set; }
        public int HopsWrong { get; private set; }

        /// <summary>Copies with the right sender and the right hop.</summary>
        public int Right { get; private set; }

        public void Add(string? name, string by, int? hop, int trueHop)
        {
            Copies++;
            Named += name is null ? 0 : 1;
            Wrong += name is null || name == by ? 0 : 1;
            Hops += hop is null ? 0 : 1;
            HopsWrong += hop is null || hop == trueHop ? 0 : 1;
            Right += name == by && hop == trueHop ? 1 : 0;
        }
    }
}
