using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol.Beacons;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.LowerTransport;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Analysis.Tests.Commissioning;

/// <summary>Events that beacons and control messages tell (Mesh Protocol 1.1 §3.10.3, §3.11.4, §3.11.5, §3.6.5).</summary>
public sealed class LifecycleTests
{
    private static readonly NetKeyMaterial Net = new(AirBuilder.NetKey);
    private readonly ConfigTalk _talk = new();

    [Fact]
    public void AnIvUpdate_IsSeenToBeginAndToEnd()
    {
        Beacon(0, 0, 5);
        Beacon(1_000, BeaconFlags.IvUpdate, 6);
        Beacon(2_000, BeaconFlags.IvUpdate, 6);
        Beacon(3_000, 0, 6);
        Assert.Equal(
            [(LifecycleKind.IvUpdateInProgress, 1_000_000_000L), (LifecycleKind.IvUpdateFinished, 3_000_000_000L)],
            _talk.Analyse().Lifecycle.Select(one => (one.Kind, one.TimeNs)));
    }

    [Fact]
    public void AnIvIndexThatSteps_AndARefreshInPhase2AndOver_AreEvents()
    {
        Beacon(0, 0, 5);
        Beacon(1_000, 0, 6);
        Beacon(2_000, BeaconFlags.KeyRefresh, 6);
        LifecycleEvent[] events = [.. _talk.Analyse().Lifecycle];
        Assert.Equal([LifecycleKind.IvIndexChanged, LifecycleKind.KeyRefreshPhase], events.Select(one => one.Kind));
        Assert.Contains("0x00000006", events[0].Says, StringComparison.Ordinal);
        Assert.Equal(("beacon", 1, 0), (events[0].Record, events[0].Row, events[0].Subnet));
    }

    [Fact]
    public void ABeaconThatDoesNotAuthenticate_IsNoEvent()
    {
        Beacon(0, 0, 5);
        byte[] forged = new byte[SecureNetworkBeacon.Length];
        SecureNetworkBeacon.Write(forged, BeaconFlags.IvUpdate, Net.NetworkId, 6, Net.BeaconKey);
        forged[^1] ^= 1;
        _talk.Air.Structure(1_000, AdType.MeshBeacon, forged);
        Assert.Empty(_talk.Analyse().Lifecycle);
    }

    [Fact]
    public void DirectedForwarding_IsSeenByItsCredentials_Once()
    {
        byte[] echo = new byte[16];
        // Path Echo Request (§3.6.8.6) has no parameters.
        int length = UnsegmentedControl.Write(echo, 0x0e, []);
        _talk.Air.Network(1_000, true, 5, 1, 0x0003, 0x0009, echo.AsSpan(0, length), Net.Directed);
        _talk.Air.Network(2_000, true, 5, 2, 0x0003, 0x0009, echo.AsSpan(0, length), Net.Directed);
        _talk.Air.Network(3_000, true, 5, 3, 0x0003, 0x0009, echo.AsSpan(0, length));
        LifecycleEvent one = Assert.Single(_talk.Analyse().Lifecycle);
        Assert.Equal((LifecycleKind.DirectedForwarding, 1_000_000_000L, "flood", 0), (one.Kind, one.TimeNs, one.Record, one.Row));
    }

    [Fact]
    public void AFriendship_IsSeenToBegin_AndToMove()
    {
        byte[] offer = new byte[16], update = new byte[16], clear = new byte[16];
        // Friend Offer (§3.6.5.4) to LPN 0x0009, and the first Friend Update (§3.6.5.2): Flags, IVIndex, MD; Friend Clear (§3.6.5.5) of the new Friend 0x0004 to the old one: LPNAddress, LPNCounter.
        _talk.Air.Network(0, true, 0, 1, 0x0003, 0x0009, offer.AsSpan(0, UnsegmentedControl.Write(offer, 0x04, Convert.FromHexString("fa0205000001"))));
        _talk.Air.Network(900, true, 0, 2, 0x0003, 0x0009, update.AsSpan(0, UnsegmentedControl.Write(update, 0x02, Convert.FromHexString("001234567800"))));
        _talk.Air.Network(1_000, true, 5, 1, 0x0004, 0x0003, clear.AsSpan(0, UnsegmentedControl.Write(clear, 0x05, Convert.FromHexString("00090007"))));
        Assert.Equal(
            [(LifecycleKind.FriendshipBegun, (ushort)9), (LifecycleKind.FriendshipCleared, (ushort)9)],
            _talk.Analyse().Lifecycle.Select(one => (one.Kind, one.Node!.Value.Value)));
    }

    [Fact]
    public void OctetsOfAnyKindUnderADeviceKey_DoNoHarm()
    {
        var random = new Random(20260302);
        string[] opcodes = ["02", "03", "06", "8000", "8002", "8003", "8016", "8017", "8019", "801a", "801b", "801f", "8020", "8022", "8025", "8028", "802a", "802c", "8039", "803c", "803d", "803e", "8040", "8043", "8044", "8045", "804a", "804c", "804e"];
        double ms = 0;
        foreach (string opcode in opcodes)
        {
            for (int length = 0; length < 40; length++)
            {
                byte[] octets = new byte[length];
                random.NextBytes(octets);
                if (length >= 2 && length % 2 == 0)
                    (octets[0], octets[1]) = (0x03, 0x00);      // now and then an element that the node has
                string payload = opcode + Convert.ToHexString(octets);
                _ = length % 3 == 0 ? _talk.Answer(ms, payload) : _talk.Ask(ms, payload);
                ms += 100;
            }
        }
        var history = _talk.Analyse(Nodes.NodeModelTests.Description("2026-01-01T00:00:00Z"));
        Assert.NotEmpty(history.Configuration!.Changes);
        foreach (var model in history.NodeModels!.All)
            foreach (long at in new[] { 0L, 10_000_000_000, 50_000_000_000, long.MaxValue })
                Assert.NotNull(model.At(at));
        Assert.NotNull(history.Commissioning);
        Assert.All(history.Lifecycle, one => Assert.NotEmpty(one.Says));
    }

    private void Beacon(double ms, BeaconFlags flags, uint ivIndex)
    {
        byte[] beacon = new byte[SecureNetworkBeacon.Length];
        SecureNetworkBeacon.Write(beacon, flags, Net.NetworkId, ivIndex, Net.BeaconKey);
        _talk.Air.Structure(ms, AdType.MeshBeacon, beacon);
    }
}
