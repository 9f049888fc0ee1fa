using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Beacons;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Analysis.Tests.Findings.Sequence;

/// <summary>IV indexes apart, IV updates out of time, key refreshes that are stuck, and what looks like it and is right.</summary>
public sealed class IvIndexAndKeyTests
{
    private const uint K = 8;
    private const double Hour = 3_600;
    private static readonly byte[] NewKey = Convert.FromHexString("7d1e0c9b8a7f6e5d4c3b2a1908f7e6d5");

    /// <summary>Frames of several networks' builders, in order of time.</summary>
    private readonly List<(long TimeNs, byte[] Octets)> _frames = [];

    private void Send(double second, ushort src, uint seq, uint ivIndex = K, byte[]? netKey = null)
    {
        var air = new AirBuilder(netKey, ivIndex);
        air.Access(second * 1000, 5, seq, src, 0xC001, "82020101");
        Take(air);
    }

    private void Beacon(double second, uint ivIndex, BeaconFlags flags = 0, byte[]? netKey = null)
    {
        var net = new NetKeyMaterial(netKey ?? AirBuilder.NetKey);
        byte[] beacon = new byte[SecureNetworkBeacon.Length];
        SecureNetworkBeacon.Write(beacon, flags, net.NetworkId, ivIndex, net.BeaconKey);
        var air = new AirBuilder();
        air.Structure(second * 1000, MeshTrace.Protocol.Bearer.AdType.MeshBeacon, beacon, 0xC0DE00000077);
        Take(air);
    }

    private void Take(AirBuilder air)
    {
        while (air.Frames.TryReadNext(out CapturedFrame frame))
            _frames.Add((frame.TimeNs, frame.Octets.ToArray()));
    }

    private CaptureHistory Analyse(NetworkDescription? description = null)
    {
        var frames = new FrameList();
        foreach ((long timeNs, byte[] octets) in _frames.OrderBy(frame => frame.TimeNs))
            frames.Add(timeNs, octets, LinkType.LeLinkLayerWithRadioHeader);
        var keys = new KeyArguments { NetKeys = [new TypedKey(0, new KeyOctets(AirBuilder.NetKey))], AppKeys = [new TypedKey(0, new KeyOctets(AirBuilder.AppKey))] };
        var analysis = new CaptureAnalysis(new AnalysisSettings { Description = description, Keys = description is null ? keys : null });
        analysis.Read(frames);
        return analysis.Complete();
    }

    /// <summary>Two keys of one index: the old and the new one of a refresh.</summary>
    private static NetworkDescription Refreshed(int phase = 2, DateTimeOffset? since = null) => new()
    {
        NetKeys = [new DescribedNetKey { Name = "Library", Index = 0, Key = new KeyOctets(NewKey), OldKey = new KeyOctets(AirBuilder.NetKey), Phase = phase, Timestamp = since }],
        AppKeys = [new DescribedAppKey { Index = 0, BoundNetKey = 0, Key = new KeyOctets(AirBuilder.AppKey) }],
    };

    private void Network(uint ivIndex, int nodes = 3, double from = 0, byte[]? netKey = null)
    {
        for (ushort node = 0; node < nodes; node++)
            for (uint at = 0; at < 4; at++)
                Send(from + node + (at * 10), (ushort)(0x0003 + node), ((uint)from * 10) + at, ivIndex, netKey);
    }

    [Theory]
    [InlineData(1u, true, Confidence.Likely)]
    [InlineData(1u, false, Confidence.Likely)]
    [InlineData(2u, false, Confidence.Certain)]
    [InlineData(5u, true, Confidence.Certain)]
    public void ANodeBehind_IsTold(uint behind, bool beacon, Confidence confidence)
    {
        Network(K);
        for (uint at = 0; at < 3; at++)
            Send(15 + (at * 10), 0x0010, at, K - behind);
        if (beacon)
            Beacon(5, K);
        Finding finding = Assert.Single(Analyse().Of("iv-index-apart"));
        Assert.Equal((confidence, new MeshAddress(0x0010)), (finding.Confidence, finding.Node!.Value));
        Assert.Contains($"IV index {K - behind}, {behind} behind the {K}", finding.Says);
    }

    /// <summary>A node that stayed behind tells the old index in its own beacons, and they may be the only ones heard.</summary>
    [Theory]
    [InlineData(1u, Confidence.Likely)]
    [InlineData(2u, Confidence.Certain)]
    public void ANodeBehind_ThatAloneSendsBeacons_IsTold_NotTheOthers(uint behind, Confidence confidence)
    {
        Network(K);
        for (uint at = 0; at < 3; at++)
            Send(15 + (at * 10), 0x0010, at, K - behind);
        Beacon(1, K - behind);
        Beacon(11, K - behind);
        Finding finding = Assert.Single(Analyse().Of("iv-index-apart"));
        Assert.Equal((confidence, new MeshAddress(0x0010)), (finding.Confidence, finding.Node!.Value));
        Assert.Contains($"{behind} behind the {K} that 3 other nodes use", finding.Says);
    }

    [Fact]
    public void OneOfTwoNodesBehind_IsPossible_AsTheNetworkMayBeTheOne()
    {
        Network(K, nodes: 1);
        Send(15, 0x0010, 1, K - 1);
        Assert.Equal(Confidence.Possible, Assert.Single(Analyse().Of("iv-index-apart")).Confidence);
    }

    [Theory]
    [InlineData("in progress")]
    [InlineData("finished in the capture")]
    [InlineData("others moved on in the capture")]
    [InlineData("last heard before the others moved on")]
    public void OneBelow_AroundAnUpdate_IsRight(string when)
    {
        switch (when)
        {
            case "in progress":
                Beacon(1, K + 1, BeaconFlags.IvUpdate);
                Network(K);
                break;
            case "finished in the capture":
                Beacon(1, K, BeaconFlags.IvUpdate);
                Beacon(2, K);
                Network(K);
                Send(20, 0x0010, 1, K - 1);
                break;
            case "others moved on in the capture":
                Network(K - 1);
                Network(K, from: 100);
                Send(150, 0x0010, 1, K - 1);
                break;
            default:
                Send(0, 0x0010, 1, K - 1);
                Network(K, from: 100);
                break;
        }
        Assert.Empty(Analyse().Of("iv-index-apart"));
    }

    [Fact]
    public void ABeaconThatNobodyFollows_AccusesNoMajority()
    {
        Network(K);
        Beacon(3, K + 1);
        Beacon(30, K + 1);
        Assert.Empty(Analyse().Of("iv-index-apart"));
    }

    [Fact]
    public void AnUpdateOf150Hours_IsOutOfTime()
    {
        Beacon(0, K, BeaconFlags.IvUpdate);
        Beacon(150 * Hour, K, BeaconFlags.IvUpdate);
        Finding finding = Assert.Single(Analyse().Of("iv-update-out-of-time"));
        Assert.Equal(Confidence.Certain, finding.Confidence);
        Assert.Contains("150 h", finding.Says);
    }

    [Fact]
    public void AnUpdateThatEndsAfterAnHour_IsOutOfTime()
    {
        Beacon(0, K - 1);
        Beacon(10, K, BeaconFlags.IvUpdate);
        Beacon(Hour, K);
        Assert.Contains("60 min after the update began", Assert.Single(Analyse().Of("iv-update-out-of-time")).Says);
    }

    [Fact]
    public void ANodeThatSendsWithTheNewIndexTooEarly_IsNamed()
    {
        Beacon(0, K - 1);
        Beacon(10, K, BeaconFlags.IvUpdate);
        Send(20, 0x0003, 1, K - 1);
        Send(Hour, 0x0010, 1, K);
        Assert.Equal(new MeshAddress(0x0010), Assert.Single(Analyse().Of("iv-update-out-of-time")).Node!.Value);
    }

    [Theory]
    [InlineData(0, 10, 100)]        // 100 h in progress
    [InlineData(-1, 10, 2)]         // its begin was not heard: it may have been days before
    public void AnUpdateInItsTime_OrOfUnknownBegin_IsRight(double normalHour, double flagSecond, double endHour)
    {
        if (normalHour >= 0)
            Beacon(normalHour * Hour, K - 1);
        Beacon(flagSecond, K, BeaconFlags.IvUpdate);
        Beacon(endHour * Hour, K);
        Send((endHour * Hour) + 5, 0x0003, 1, K);
        Assert.Empty(Analyse().Of("iv-update-out-of-time"));
    }

    [Theory]
    [InlineData(false, Confidence.Likely)]
    [InlineData(true, Confidence.Certain)]
    public void ANodeThatStaysWithTheOldKey_IsTold(bool revoked, Confidence confidence)
    {
        Network(K);
        Network(K, nodes: 2, from: 100, netKey: NewKey);
        Beacon(101, K, BeaconFlags.KeyRefresh, NewKey);
        if (revoked)
            Beacon(160, K, 0, NewKey);
        Send(200, 0x0005, 3000, K);
        Finding finding = Assert.Single(Analyse(Refreshed()).Of("key-refresh-stuck"));
        Assert.Equal((confidence, new MeshAddress(0x0005)), (finding.Confidence, finding.Node!.Value));
    }

    [Fact]
    public void ARefreshThatGoesOn_IsNoFinding()
    {
        Network(K);
        Assert.Empty(Analyse(Refreshed(phase: 1)).Of("key-refresh-stuck"));       // phase 1: all send with the old key
        Network(K, nodes: 2, from: 100, netKey: NewKey);
        Send(140, 0x0005, 3000, K);                                               // within a minute of the switch
        Assert.Empty(Analyse(Refreshed()).Of("key-refresh-stuck"));
        Send(300, 0x0005, 3001, K);
        Send(310, 0x0005, 3002, K, NewKey);                                       // late, but it followed
        Assert.Empty(Analyse(Refreshed()).Of("key-refresh-stuck"));
    }

    [Fact]
    public void APhaseThatStandsInTheDescriptionForDays_IsPossiblyStuck()
    {
        const double now = 1_000_000;
        Network(K, from: now, netKey: NewKey);
        DateTimeOffset daysBefore = DateTimeOffset.FromUnixTimeSeconds((long)(now - (72 * Hour))), anHourBefore = DateTimeOffset.FromUnixTimeSeconds((long)(now - Hour));
        Finding finding = Assert.Single(Analyse(Refreshed(since: daysBefore)).Of("key-refresh-stuck"));
        Assert.Equal(Confidence.Possible, finding.Confidence);
        Assert.Contains("phase 2 for 3 days", finding.Says);
        Assert.Empty(Analyse(Refreshed(since: anHourBefore)).Of("key-refresh-stuck"));
        Assert.Empty(Analyse(Refreshed(phase: 0, since: daysBefore)).Of("key-refresh-stuck"));
    }
}
