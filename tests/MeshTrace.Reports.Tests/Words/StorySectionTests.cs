using MeshTrace.Analysis.Beacons;
using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol;
using MeshTrace.Reports.Tests.Support;

namespace MeshTrace.Reports.Tests.Words;

/// <summary>How joining, setting up and changes of the network are told.</summary>
public sealed class StorySectionTests
{
    private static readonly Guid Device = new("00112233-4455-6677-8899-aabbccddeeff");
    private readonly Story _story = new("""
        {"$schema": "http://json-schema.org/draft-04/schema#", "meshName": "Library", "netKeys": [], "appKeys": [], "nodes": [
          {"UUID": "00112233-4455-6677-8899-aabbccddee01", "unicastAddress": "0009", "name": "stairs lamp", "deviceKey": "00000000000000000000000000000001", "elements": [{"index": 0, "location": "0000", "models": []}], "netKeys": [], "appKeys": []}]}
        """);

    [Fact]
    public void NothingHappened_IsNoSection() => Assert.DoesNotContain("Joining", _story.Explain(), StringComparison.Ordinal);

    [Fact]
    public void ADeviceThatJoins_IsToldStepByStep_WithWhatIsMissing()
    {
        _story.History.Provisionings = [Link(ProvisioningOutcome.Complete)];
        _story.History.Lifecycle = [Event(1, LifecycleKind.ProvisioningBegun, "provisioning of device begins"), Event(4, LifecycleKind.Provisioned, "device joins the network after 3.0 s")];
        string account = Unwrapped();
        Assert.DoesNotContain("not heard to be done", account, StringComparison.Ordinal);       // without its device key nobody could have read it
        Assert.Contains($"Device {Device}", account, StringComparison.Ordinal);
        Assert.Contains("18:00:01 provisioning of device begins 18:00:04 device joins the network after 3.0 s", account, StringComparison.Ordinal);
        Assert.Contains("Its keys stay unknown: a passive listener needs the private key of one side (--provisioning-key)", account, StringComparison.Ordinal);
    }

    /// <summary>Who gave a private key is not asked for one.</summary>
    [Theory]
    [InlineData(PrivateKeyUse.OfNeitherSide, "the private key given (--provisioning-key) belongs to neither side of it.")]
    [InlineData(PrivateKeyUse.NotAllHeard, "a private key was given, but not all provisioning PDUs that it needs were heard.")]
    [InlineData(PrivateKeyUse.OpenedNothing, "the private key given (--provisioning-key) does not open its data.")]
    public void AGivenPrivateKeyThatOpensNothing_IsTold(PrivateKeyUse use, string says)
    {
        ProvisioningLink link = Link(ProvisioningOutcome.Complete);
        link.PrivateKey = use;
        _story.History.Provisionings = [link];
        _story.History.Lifecycle = [Event(4, LifecycleKind.Provisioned, "device joins the network after 3.0 s")];
        Assert.Contains($"Its keys stay unknown: {says} The exported description has them (--network).", Unwrapped(), StringComparison.Ordinal);
    }

    [Fact]
    public void WhatIsMissingInASetUp_IsSaid_WhereItCouldHaveBeenRead()
    {
        ProvisioningLink link = Link(ProvisioningOutcome.Complete);
        link.Unicast = new MeshAddress(0x0009);
        link.Pdus.Add(new ProvisioningPduRecord(link.LastTimeNs, 8, "Provisioning Complete", true, 0x84, [8]));
        _story.Keys.AddDeviceKey(new MeshAddress(0x0009), new byte[16], KeyOrigin.Given);
        _story.History.Provisionings = [link];
        _story.History.Lifecycle = [Event(4, LifecycleKind.Provisioned, "device joins the network after 3.0 s")];
        string account = Unwrapped();
        Assert.Contains("this was not heard to be done: Composition Data, an AppKey and a binding to a model", account, StringComparison.Ordinal);
        Assert.Contains("the device key that came of it is known from elsewhere", account, StringComparison.Ordinal);
    }

    [Fact]
    public void AFailure_HasItsReason_AndKeysLearntAreSaid()
    {
        ProvisioningLink failed = Link(ProvisioningOutcome.Failed), learnt = Link(ProvisioningOutcome.Complete);
        learnt.KeysLearnt = true;
        _story.History.Provisionings = [failed, learnt];
        _story.History.Lifecycle = [Event(1, LifecycleKind.ProvisioningFailed, "provisioning of device ends without success: Confirmation Failed"), Event(4, LifecycleKind.Provisioned, "device joins", 1)];
        string account = Unwrapped();
        Assert.Contains("2 provisionings tried", account, StringComparison.Ordinal);
        Assert.Contains("ends without success: Confirmation Failed", account, StringComparison.Ordinal);
        Assert.Contains("Opened with the given private key", account, StringComparison.Ordinal);
    }

    [Fact]
    public void ManyStepsOfAKind_AreToldOnce_TwoAreToldBoth()
    {
        _story.History.Lifecycle = [
            .. Enumerable.Range(0, 5).Select(second => Of(0x0009, second, LifecycleKind.KeyBound, $"binds AppKey 0 to model {second}")),
            .. Enumerable.Range(10, 2).Select(second => Of(0x0009, second, LifecycleKind.FeatureSet, $"relay set {second}")),
        ];
        string account = Unwrapped();
        Assert.Contains("stairs lamp (0x0009) binds AppKey 0 to model 0, and 4 more of the kind until 18:00:04", account, StringComparison.Ordinal);
        Assert.Contains("relay set 10", account, StringComparison.Ordinal);
        Assert.Contains("relay set 11", account, StringComparison.Ordinal);
        Assert.DoesNotContain("model 1", account, StringComparison.Ordinal);
    }

    [Fact]
    public void ChangesOfTheWholeNetwork_AreToldWithTheirTime()
    {
        _story.History.Lifecycle = [new LifecycleEvent(Story.Begin + (65 * Story.Second), LifecycleKind.IvUpdateInProgress, 0, null, "IV update in progress towards 0x00000005 in subnet Library", "beacon", 0)];
        Assert.Contains("18:01:05 IV update in progress towards 0x00000005 in subnet Library", Unwrapped(), StringComparison.Ordinal);
    }

    [Fact]
    public void DevicesThatWait_AreCounted_NotToldTwice()
    {
        _story.History.Beacons = [new BeaconRecord { Kind = BeaconKind.Unprovisioned, DeviceUuid = Device, FirstTimeNs = Story.Begin, Count = 3 }];
        _story.History.Lifecycle = [new LifecycleEvent(Story.Begin, LifecycleKind.UnprovisionedBeacon, -1, null, $"a device in no network sends beacons: {Device}", "beacon", 0)];
        string account = Unwrapped();
        Assert.Contains($"1 device seen that waits to be provisioned: {Device}.", account, StringComparison.Ordinal);
        Assert.DoesNotContain("sends beacons", account, StringComparison.Ordinal);
    }

    [Fact]
    public void MoreThanFits_IsCounted_AndTheWayToAllIsShown()
    {
        _story.History.Lifecycle = [.. Enumerable.Range(0, 100).Select(second => Of(0x0009, second, LifecycleKind.FeatureSet, $"relay set {second}"))];
        Assert.Contains("70 more events: 'meshtrace records --only event' lists all.", Unwrapped(), StringComparison.Ordinal);
    }

    private string Unwrapped() => string.Join(' ', _story.Explain().Split((char[]?)null, StringSplitOptions.RemoveEmptyEntries));

    private static ProvisioningLink Link(ProvisioningOutcome outcome) =>
        new() { LinkId = 7, DeviceUuid = Device, FirstTimeNs = Story.Begin, LastTimeNs = Story.Begin + (3 * Story.Second), Outcome = outcome };

    private static LifecycleEvent Event(int second, LifecycleKind kind, string says, int link = 0) => new(Story.Begin + (second * Story.Second), kind, -1, null, says, "provisioning", link);

    private static LifecycleEvent Of(ushort node, int second, LifecycleKind kind, string says) =>
        new(Story.Begin + (second * Story.Second), kind, 0, new MeshAddress(node), says, "message", 0);
}
