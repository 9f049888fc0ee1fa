using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Tests.Floods;

/// <summary>A relay heard instead of an originator that is out of reach must not be taken for it.</summary>
public sealed class UnheardOriginatorTests
{
    private const string On = "82020101";
    private const ulong Relay = 0xC0DE000000AA;
    private static readonly MeshAddress Panel = new(0x0003), RelayNode = new(0x0010);

    /// <summary>Three lamps and the relay start with TTL 5; the panel is only heard with TTL 4, through the relay.</summary>
    private static AirBuilder PanelOutOfReach()
    {
        var air = new AirBuilder();
        for (uint turn = 0; turn < 8; turn++)
        {
            double at = turn * 1_000;
            for (ushort lamp = 0x0021; lamp <= 0x0023; lamp++)
                air.Access(at + (lamp * 3), 5, 500 + turn, lamp, 0xC002, On);
            air.Access(at + 300, 5, 700 + turn, RelayNode.Value, 0xC002, On, advertiser: Relay);
            air.Access(at + 500, 4, 100 + turn, Panel.Value, 0xC001, On, advertiser: Relay);
            air.Access(at + 512, 3, 100 + turn, Panel.Value, 0xC001, On, advertiser: 0xC0DE00000021);
        }
        return air;
    }

    [Fact]
    public void TheRelay_KeepsItsAddress_AndThePanelHasNone()
    {
        CaptureHistory history = PanelOutOfReach().Analyse();
        Assert.Equal(RelayNode, history.Senders!.OwnerOf(Relay));
        Assert.Empty(history.Senders.AdvertisersOf(Panel));
        int flood = Enumerable.Range(0, history.Floods.Count).First(row => history.Floods[row].Src == Panel);
        Assert.False(history.OriginatorHeard(flood));
        Assert.Null(history.HopOf(flood, history.CopiesOf(flood)[0]));
        Assert.Equal(RelayNode, history.SenderOf(history.CopiesOf(flood)[0]));
    }

    [Fact]
    public void OnceTheOriginalIsHeard_HopsCountFromItsTtl()
    {
        AirBuilder air = PanelOutOfReach();
        for (uint turn = 0; turn < 4; turn++)
        {
            air.Access(20_000 + (turn * 1_000), 5, 200 + turn, Panel.Value, 0xC001, On, advertiser: 0xC0DE000000BB);
            air.Access(20_012 + (turn * 1_000), 4, 200 + turn, Panel.Value, 0xC001, On, advertiser: Relay);
        }
        CaptureHistory history = air.Analyse();
        Assert.Equal(Panel, history.Senders!.OwnerOf(0xC0DE000000BB));
        int early = Enumerable.Range(0, history.Floods.Count).First(row => history.Floods[row].Src == Panel);
        Assert.Equal((false, 1), (history.OriginatorHeard(early), history.HopOf(early, history.CopiesOf(early)[0])));
    }

    /// <summary>Two addresses with the highest TTL heard: only one node can be the originator, so neither is.</summary>
    [Fact]
    public void TwoAddressesAtTheHighestTtl_AreRelays()
    {
        var air = new AirBuilder();
        for (uint turn = 0; turn < 6; turn++)
        {
            air.Access(turn * 1_000, 4, 100 + turn, Panel.Value, 0xC001, On, advertiser: Relay);
            air.Access((turn * 1_000) + 7, 4, 100 + turn, Panel.Value, 0xC001, On, advertiser: 0xC0DE000000BB);
        }
        CaptureHistory history = air.Analyse();
        Assert.False(history.OriginatorHeard(0));
        Assert.Empty(history.Senders!.AdvertisersOf(Panel));
        Assert.Equal((null, SenderConfidence.Unknown), history.SenderGuessOf(history.CopiesOf(0)[0]));
    }

    /// <summary>TTL 1 never leaves an originator (Mesh Protocol 1.1 §3.4.5.2), TTL 0 never a relay (§3.4.4).</summary>
    [Fact]
    public void TtlOneIsAlwaysRelayed_TtlZeroNever()
    {
        var air = new AirBuilder();
        for (uint turn = 0; turn < 4; turn++)
        {
            air.Access(turn * 1_000, 1, 100 + turn, 0x0003, 0xC001, On, advertiser: Relay);
            air.Access((turn * 1_000) + 500, 0, 100 + turn, 0x0004, 0xC001, On, advertiser: 0xC0DE000000BB);
        }
        CaptureHistory history = air.Analyse();
        Assert.Equal((false, true), (history.OriginatorHeard(0), history.OriginatorHeard(1)));
        Assert.Equal((null, new MeshAddress(4)), (history.SenderOf(history.CopiesOf(0)[0]), history.SenderOf(history.CopiesOf(1)[0])));
    }

    [Fact]
    public void TheTreeOfAFlood_NamesParentsAndDelays()
    {
        CaptureHistory history = PanelOutOfReach().Analyse();
        int flood = Enumerable.Range(0, history.Floods.Count).First(row => history.Floods[row].Src == Panel);
        IReadOnlyList<HopNode> tree = HopTree.Of(history, flood);
        Assert.Equal([4, 3], tree.Select(node => (int)node.Ttl));
        Assert.Equal((null, 0, false), (tree[0].Parent, tree[1].Parent!.Value, tree[1].ParentIsGuess));
        Assert.Equal(12_000_000, tree[1].DelayNs);
        Assert.Equal(new RelayLink(RelayNode, new MeshAddress(0x0021), 8), Assert.Single(history.Hops.Links));
        Assert.Equal(8, history.Hops.RelayOf(new MeshAddress(0x0021))!.Emissions);
    }

    /// <summary>One PDU repeated under very many addresses, each at two TTLs: the work must stay in proportion to the frames.</summary>
    [Fact]
    public void AFloodUnderManyAddresses_IsTakenInItsStride()
    {
        const int addresses = 10_000;
        var air = new AirBuilder();
        for (int turn = 0; turn < 2; turn++)
            for (int address = 0; address < addresses; address++)
                air.Access((turn * 1_000) + (address * 0.05), (byte)(5 - turn), 100, Panel.Value, 0xC001, On, advertiser: 0x100000 + (ulong)address);
        CaptureHistory history = air.Analyse();
        Assert.Equal(2 * addresses, history.CopiesOf(0).Length);
        Assert.False(history.OriginatorHeard(0));
        Assert.Equal(2 * addresses, HopTree.Of(history, 0).Count);
    }
}
