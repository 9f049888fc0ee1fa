using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Proxy;
using MeshTrace.Synthesis.Connections;

namespace MeshTrace.Analysis.Tests.Connections;

/// <summary>A phone sets up two lamps and switches them: the log of its host gives provisioning, keys, configuration, presses and the proxy filter.</summary>
public sealed class PhoneSetupTests
{
    public static TheoryData<HostLogForm> Forms => [.. Enum.GetValues<HostLogForm>()];

    [Theory, MemberData(nameof(Forms))]
    public void HostLog_WithThePrivateKeyAlone_GivesTheWholeStory(HostLogForm form)
    {
        PhoneSetup setup = PhoneSetup.Compose();
        CaptureHistory history = Analyse(setup, form, ProvisioningKey(setup));

        Assert.Equal(2, history.Provisionings.Count);
        for (int i = 0; i < 2; i++)
        {
            ProvisioningLink link = history.Provisionings[i];
            Assert.Equal((ProvisioningOutcome.Complete, true, (ushort?)setup.Nodes[i].Unicast, false), (link.Outcome, link.KeysLearnt, link.Unicast?.Value, link.IsPbAdv));
            Assert.Equal((setup.Nodes[i].DeviceUuid, 11, ConfirmationCheck.Right), (link.DeviceUuid, link.Pdus.Count, link.Confirmation));
            Assert.Equal(i, link.Connection);
        }
        // Per node: Composition Get, AppKey Add, Model App Bind, Model Subscription Add, each with its Status.
        Assert.Equal(8, setup.ConfigMessages);
        Assert.Equal(8, history.Configuration!.Changes.Count);
        Assert.Equal(4, history.Presses.Count);
        Assert.All(history.Presses, press => Assert.Equal(2, press.Answers.Select(answer => answer.Element).Distinct().Count()));
        Assert.Equal(["on", "off", "on", "off"], history.Presses.Select(press => press.Asks));
        Assert.All(history.Commissioning.Devices, device => Assert.True(device is { AppKeyAdded: true, KeyBound: true, CompositionTold: true, JoinedBy: not null }));
    }

    [Fact]
    public void HostLog_TellsTheConnectionsAndTheFilter()
    {
        PhoneSetup setup = PhoneSetup.Compose();
        CaptureHistory history = Analyse(setup, HostLogForm.BtSnoopH4, ProvisioningKey(setup));

        Assert.Equal(3, history.Connections.Count);
        ConnectionRecord proxy = history.Connections[2];
        Assert.Equal((setup.Nodes[0].Address, (bool?)true, (int?)69, (byte?)0x16), (proxy.Peripheral!.Value, proxy.HostIsCentral, proxy.Mtu, proxy.EndReason));
        Assert.Equal((MeshRecognition.Discovered, MeshRecognition.None, LinkEncryption.None), (proxy.Proxy, proxy.Provisioning, proxy.Encryption));
        Assert.Equal([0x1800, MeshService.Proxy], proxy.Services.Select(service => service.Uuid!.Value));
        Assert.Equal((MeshRecognition.None, MeshRecognition.Discovered), (history.Connections[0].Proxy, history.Connections[0].Provisioning));
        Assert.Equal((0, 0, 0, 0), (proxy.Counts.FramesLost, proxy.Counts.ProxyPdusLost, proxy.Counts.ConfigurationMessagesUnopened, proxy.Counts.Gaps));
        Assert.Equal((4, 1), (proxy.Counts.ConfigurationMessages, proxy.Counts.Beacons));
        Assert.Equal((PhoneSetup.PhoneUnicast, setup.Nodes[0].Unicast), (proxy.ClientAddress!.Value.Value, proxy.ServerAddress!.Value.Value));

        ProxyFilter filter = proxy.FilterAt(long.MaxValue);
        Assert.Equal((ProxyFilterType.AcceptList, true, (int?)2), (filter.Type, filter.IsCertain, filter.ToldSize));
        Assert.Equal([PhoneSetup.PhoneUnicast, PhoneSetup.Group], filter.Addresses.Select(address => address.Value));
        Assert.True(filter.Passes(new MeshAddress(PhoneSetup.Group)));
        Assert.False(filter.Passes(new MeshAddress(0xC123)));
        Assert.False(proxy.FilterAt(proxy.FirstTimeNs).Passes(new MeshAddress(PhoneSetup.Group)));
    }

    [Fact]
    public void HearingsOverGatt_AreNoHearingsOnTheAir()
    {
        PhoneSetup setup = PhoneSetup.Compose();
        CaptureHistory history = Analyse(setup, HostLogForm.BtSnoopH4, ProvisioningKey(setup));

        Assert.True(history.Floods.Count > 30);
        for (int row = 0; row < history.Floods.Count; row++)
        {
            FloodRow flood = history.Floods[row];
            bool phones = flood.Src.Value == PhoneSetup.PhoneUnicast;
            Assert.False(flood.HeardOnAir);
            FloodCopy copy = Assert.Single(history.CopiesOf(row).ToArray());
            Assert.Equal(phones ? Bearer.GattFromClient : Bearer.GattFromServer, copy.Bearer);
            Assert.Equal(phones ? 0 : null, history.HopOf(row, copy));
            Assert.Equal((2, null, null), (history.Frames[copy.Frame].Connection, history.Frames[copy.Frame].Channel, history.Frames[copy.Frame].Rssi));
        }
        Assert.Null(history.HeardShares!.CountOf(new MeshAddress(setup.Nodes[0].Unicast)));
        Assert.Empty(history.Hops.Links);
        Assert.All(history.Nodes, node => Assert.True(node is { CopiesPerPdu: null, HeardShare: null }));
    }

    [Theory, InlineData(true), InlineData(false)]
    public void WithoutDiscovery_ValuesAreRecognisedByTheirContent(bool withKeys)
    {
        PhoneSetup setup = PhoneSetup.Compose(new PhoneSetupPlan { Discovers = false });
        CaptureHistory history = Analyse(setup, HostLogForm.BtSnoopH4, withKeys ? ProvisioningKey(setup) : new KeyArguments());

        Assert.Equal((MeshRecognition.ByContent, MeshRecognition.None), (history.Connections[0].Provisioning, history.Connections[0].Proxy));
        Assert.Equal((MeshRecognition.ByContent, MeshRecognition.None), (history.Connections[2].Proxy, history.Connections[2].Provisioning));
        Assert.All(history.Provisionings, link => Assert.Equal((ProvisioningOutcome.Complete, 11), (link.Outcome, link.Pdus.Count)));
        Assert.Equal(withKeys ? 4 : 0, history.Presses.Count);
        Assert.Equal(withKeys, history.OpenedNetworkPdus > 0);
        Assert.True(history.DistinctNetworkPdus > 30);
    }

    /// <summary>A phone's log holds that phone's connections: nothing is wrong with it. A receiver that follows them hears nobody else.</summary>
    [Fact]
    public void AHostLog_IsNoReceiverThatFollowsOneDevice()
    {
        PhoneSetup setup = PhoneSetup.Compose(new PhoneSetupPlan { Presses = 60 });
        Assert.Empty(Analyse(setup, HostLogForm.PcapH4WithDirection, ProvisioningKey(setup)).Findings);

        using var air = new MemoryStream();
        AirCaptureWriter.Write(air, setup.Connections, new AirRecording());
        air.Position = 0;
        using IFrameSource source = CaptureFile.Open(air, "air");
        var analysis = new CaptureAnalysis(new AnalysisSettings());
        analysis.Read(source);
        Analysis.Findings.Finding finding = Assert.Single(analysis.Complete().Findings, finding => finding.Id == "capture-follows-one-device");
        Assert.Equal("100 % of the frames belong to connections: the receiver followed them, or heard nobody else where it stood.", finding.Says);
    }

    [Theory, InlineData(23), InlineData(40), InlineData(185)]
    public void EveryMtu_GivesTheSame(int mtu)
    {
        PhoneSetup setup = PhoneSetup.Compose(new PhoneSetupPlan { ClientMtu = (ushort)mtu });
        CaptureHistory history = Analyse(setup, HostLogForm.PcapH4, ProvisioningKey(setup));

        Assert.All(history.Connections, connection => Assert.Equal(Math.Min(mtu, 69), connection.Mtu));
        Assert.Equal((8, 4), (history.Configuration!.Changes.Count, history.Presses.Count));
    }

    private static KeyArguments ProvisioningKey(PhoneSetup setup) => new() { ProvisioningKeys = [setup.ProvisionerPrivateKey] };

    private static CaptureHistory Analyse(PhoneSetup setup, HostLogForm form, KeyArguments keys)
    {
        using var log = new MemoryStream();
        HostLogWriter.Write(log, setup.Connections, form);
        log.Position = 0;
        using IFrameSource source = CaptureFile.Open(log, "phone");
        var analysis = new CaptureAnalysis(new AnalysisSettings { Keys = keys });
        analysis.Read(source);
        return analysis.Complete();
    }
}
