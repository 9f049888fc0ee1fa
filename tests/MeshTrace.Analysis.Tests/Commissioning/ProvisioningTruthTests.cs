using System.Text.Json;
using MeshTrace.Analysis.Beacons;
using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol.Provisioning;

namespace MeshTrace.Analysis.Tests.Commissioning;

/// <summary>A tablet of a simulated network provisions a lamp and sets it up; the analysis has the tablet's private key and nothing else.</summary>
public sealed class ProvisioningTruthTests
{
    private const string Provision = """{"atS": 5, "provision": "lamp", "by": "tablet"}""", Afterwards = """
        , {"atS": 25, "configure": "lamp", "by": "tablet", "steps": ["composition", "app-keys", "bind", "subscribe"]},
        {"atS": 45, "press": "panel", "asks": "on", "acknowledged": true}
        """;

    private static ReadingRoom Room(string more = "") => new() { Schedule = Provision.Replace("}", more + "}", StringComparison.Ordinal) + Afterwards };

    [Theory]
    [InlineData("")]
    [InlineData(""", "algorithm": "hmac" """)]
    [InlineData(""", "staticOob": "00112233445566778899aabbccddeeff" """)]
    [InlineData(""", "algorithm": "hmac", "staticOob": "00112233445566778899aabbccddeeff00112233445566778899aabbccddee01" """)]
    public void WithThePrivateKeyOfTheTruth_TheNetworkIsOpened(string how)
    {
        ComposedNetwork network = ComposedNetwork.Of(Room(how).ToScenario(), KeysOf);
        JsonElement truth = Truth(network);
        ProvisioningLink link = Assert.Single(network.History.Provisionings);
        Assert.Equal("complete", Text(truth, "outcome"));
        Assert.Equal((ProvisioningOutcome.Complete, true, ConfirmationCheck.Right, LinkCloseReason.Success), (link.Outcome, link.KeysLearnt, link.Confirmation, link.Close));
        Assert.Equal([0, 1, 2, 3, 3, 5, 5, 6, 6, 7, 8], link.Pdus.Select(pdu => (int)pdu.Type));
        Assert.Equal((Text(truth, "uuid"), Text(truth, "unicast"), Text(truth, "linkId")), (link.DeviceUuid.ToString(), link.Unicast.ToString(), link.LinkId.ToString("x8")));
        Assert.Equal(truth.GetProperty("pdus").GetInt32(), link.Pdus.Count);

        // The NetKey from the provisioning data, the AppKey from the Config message that follows under the new device key: the press is open, and was carried out.
        Assert.Equal(KeyOrigin.Provisioning, Assert.Single(network.History.Keys.Subnets).Origin);
        Assert.Equal(KeyOrigin.ConfigMessage, Assert.Single(network.History.Keys.AppKeys).Origin);
        Assert.Equal("all", Text(Assert.Single(network.Truth.GetProperty("presses").EnumerateArray()), "fate"));
        Assert.Equal("on", Assert.Single(network.History.Presses).Asks);
        for (int row = 0; row < network.History.Messages.Count; row++)
            Assert.True(network.History.Messages[row].IsControl || network.History.Messages[row].Key != MessageKey.None, $"message {row}");
        Assert.Equal("complete", Text(Assert.Single(network.Truth.GetProperty("configurations").EnumerateArray()), "outcome"));
    }

    [Fact]
    public void TheEvents_ComeWhenTheyHappened()
    {
        ComposedNetwork network = ComposedNetwork.Of(Room().ToScenario());
        long begun = Ns(Truth(network), "time"), joined = network.Truth.GetProperty("lifecycle").EnumerateArray().Where(row => Text(row, "what") == "provisioned").Select(row => Ns(row, "time")).Single();
        Assert.InRange(Event(network, LifecycleKind.UnprovisionedBeacon).TimeNs, 0, begun);
        Assert.InRange(Event(network, LifecycleKind.ProvisioningBegun).TimeNs - begun, 0, 3_000_000_000);
        Assert.InRange(Event(network, LifecycleKind.Provisioned).TimeNs - joined, 0, 2_000_000_000);
        // no beacon while the link is open, and none after it
        BeaconRecord beacon = network.History.Beacons.Single(one => one.Kind == BeaconKind.Unprovisioned);
        Assert.InRange(beacon.LastTimeNs, begun - 2_100_000_000, begun + 1_500_000_000);
    }

    /// <summary>What the description says of the device key is what both ends derive.</summary>
    [Fact]
    public void TheDescription_HasTheDeviceKeyThatComesOfIt()
    {
        ComposedNetwork network = ComposedNetwork.Of(Room().ToScenario());
        Assert.Contains(Enumerable.Range(0, network.History.Messages.Count), row => network.History.Messages[row] is { Key: MessageKey.Device, Src.Value: 0x0030 });
    }

    [Theory]
    [InlineData("confirmation", "confirmation failed", ProvisioningOutcome.Failed, LinkCloseReason.Fail)]
    [InlineData("timeout", "timeout", ProvisioningOutcome.Failed, LinkCloseReason.Timeout)]
    [InlineData("stops", "stopped", ProvisioningOutcome.Unfinished, null)]
    public void AProvisioningThatFails_EndsAsItsFaultSays(string how, string outcome, ProvisioningOutcome heard, LinkCloseReason? close)
    {
        ComposedNetwork network = ComposedNetwork.Of((Room() with { LastsS = 120, Faults = $$"""{"fault": "provisioning-failed", "node": "lamp", "how": "{{how}}"}""" }).ToScenario());
        Assert.Equal(outcome, Text(Truth(network), "outcome"));
        ProvisioningLink link = Assert.Single(network.History.Provisionings);
        Assert.Equal((heard, close), (link.Outcome, link.Close));
        Assert.Equal("some", Text(Assert.Single(network.Truth.GetProperty("presses").EnumerateArray()), "fate"));   // the other lamp alone
        Assert.Contains(network.History.Lifecycle, one => one.Kind == LifecycleKind.ProvisioningFailed);
        // The device shows itself again.
        Assert.True(network.History.Beacons.Single(one => one.Kind == BeaconKind.Unprovisioned).LastTimeNs > link.LastTimeNs);
    }

    [Theory]
    [InlineData("""{"fault": "provisioning-repeats", "node": "lamp"}""", true)]
    [InlineData("", false)]
    public void LateAcknowledgments_MakeTheProvisionerRepeat(string fault, bool repeats)
    {
        ComposedNetwork network = ComposedNetwork.Of((Room() with { LastsS = 90, Schedule = Provision, Faults = fault }).ToScenario());
        int told = Truth(network).GetProperty("repeats").GetInt32();
        Assert.InRange(told, repeats ? 15 : 0, repeats ? 60 : 4);
        ProvisioningLink link = Assert.Single(network.History.Provisionings);
        Assert.Equal(ProvisioningOutcome.Complete, link.Outcome);
        Assert.True(link.Retransmissions >= told, $"{link.Retransmissions} repeated bearer PDUs, {told} repeated transactions");
    }

    [Fact]
    public void ADeviceThatGoesOnWithItsBeacons_IsSeenToDoSo()
    {
        ComposedNetwork network = ComposedNetwork.Of((Room() with { Faults = """{"fault": "still-unprovisioned", "node": "lamp"}""" }).ToScenario());
        BeaconRecord beacon = network.History.Beacons.Single(one => one.Kind == BeaconKind.Unprovisioned);
        Assert.True(beacon.LastTimeNs - Event(network, LifecycleKind.Provisioned).TimeNs > 30_000_000_000);
    }

    /// <summary>Reset, then brought in again: two device keys for one address, each with its own messages.</summary>
    [Fact]
    public void ANodeThatIsResetAndProvisionedAgain_HasANewDeviceKey()
    {
        ComposedNetwork network = ComposedNetwork.Of(new ReadingRoom
        {
            LastsS = 80, Schedule = """
                {"atS": 5, "configure": "lamp", "by": "tablet", "steps": ["reset"]}, {"atS": 20, "provision": "lamp", "by": "tablet"},
                {"atS": 40, "configure": "lamp", "by": "tablet", "steps": ["app-keys", "bind", "subscribe"]}
                """,
        }.ToScenario(), KeysOf);
        Assert.Equal("complete", Text(Truth(network), "outcome"));
        ProvisioningLink link = Assert.Single(network.History.Provisionings);
        Assert.True(link.KeysLearnt);
        Assert.Contains(Enumerable.Range(0, network.History.Messages.Count), row => network.History.Messages[row] is { Key: MessageKey.Device, Dst.Value: 0x0030 });
    }

    private static KeyArguments KeysOf(JsonElement truth)
    {
        JsonElement one = truth.GetProperty("provisionings")[0];
        return new KeyArguments
        {
            ProvisioningKeys = [Convert.FromHexString(Text(one, "privateKey"))],
            ProvisioningOobValues = one.TryGetProperty("staticOob", out JsonElement value) ? [Convert.FromHexString(value.GetString()!)] : [],
        };
    }

    private static LifecycleEvent Event(ComposedNetwork network, LifecycleKind kind) => network.History.Lifecycle.First(one => one.Kind == kind);

    private static JsonElement Truth(ComposedNetwork network) => Assert.Single(network.Truth.GetProperty("provisionings").EnumerateArray());

    private static long Ns(JsonElement json, string member) => ComposedNetwork.NsOf(Text(json, member));

    private static string Text(JsonElement json, string member) => json.GetProperty(member).GetString()!;
}
