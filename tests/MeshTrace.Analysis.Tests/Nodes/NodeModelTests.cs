using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Tests.Nodes;

public sealed class NodeModelTests
{
    private const long NsPerMs = 1_000_000;
    private static readonly MeshAddress Lamp = new(ConfigTalk.Node), Group = new(0xC001);
    private static readonly ModelInstance OnOff = new(Lamp, new ModelNumber(0x1000));
    private readonly ConfigTalk _talk = new();

    // A lamp that the description believes subscribed to C001, with AppKey 0 bound.
    internal static string Description(string timestamp) => $$"""
        {"$schema": "x", "id": "x", "version": "1.0.1", "meshUUID": "8f5ea3d6-6a2f-4b6e-9b8c-0d2f8d1b5a11", "meshName": "Library", "timestamp": "{{timestamp}}",
         "netKeys": [{"name": "Library", "index": 0, "key": "{{Convert.ToHexString(AirBuilder.NetKey)}}", "phase": 0, "minSecurity": "secure", "timestamp": "{{timestamp}}"}],
         "appKeys": [{"name": "Light", "index": 0, "boundNetKey": 0, "key": "{{Convert.ToHexString(AirBuilder.AppKey)}}"}],
         "provisioners": [], "groups": [], "scenes": [],
         "nodes": [{"UUID": "8f5ea3d6-6a2f-4b6e-9b8c-0d2f8d1b5a12", "unicastAddress": "0003", "deviceKey": "{{Convert.ToHexString(ConfigTalk.DeviceKey)}}", "security": "secure",
           "netKeys": [{"index": 0, "updated": false}], "appKeys": [{"index": 0, "updated": false}], "configComplete": true, "name": "lamp", "excluded": false,
           "features": {"relay": 0}, "defaultTTL": 5,
           "elements": [{"index": 0, "location": "0000", "models": [{"modelId": "1000", "subscribe": ["C001"], "bind": [0]}]}]}]}
        """;

    [Fact]
    public void WhatConfigMessagesChange_HoldsFromTheirTimeOn()
    {
        _talk.Ask(1_000, "803f" + "0300" + "0000" + "0010").Answer(1_050, "803e" + "00" + "0300" + "0000" + "0010");     // unbound
        _talk.Ask(2_000, "801c" + "0300" + "01c0" + "0010");                                                              // unsubscribed, no Status
        _talk.Ask(3_000, "80270112").Answer(3_050, "80280112");                                                          // relay on
        NodeModel model = Model("1969-01-01T00:00:00Z");

        NodeState before = model.At(500 * NsPerMs), later = model.At(long.MaxValue);
        Assert.Equal(new Claim(true, KnownFrom.Description), before.BindingsOf(OnOff)[0]);
        Assert.Equal((false, KnownFrom.Confirmed), (later.BindingsOf(OnOff)[0].Holds, later.BindingsOf(OnOff)[0].From));
        Assert.True(model.At(1_500 * NsPerMs).SubscriptionsOf(OnOff)[Group].Holds);
        Assert.Equal((false, KnownFrom.Asked), (later.SubscriptionsOf(OnOff)[Group].Holds, later.SubscriptionsOf(OnOff)[Group].From));
        Assert.Equal((FeatureState.Disabled, KnownFrom.Description), (before.Relay.Value, before.Relay.From));
        Assert.Equal((FeatureState.Enabled, KnownFrom.Confirmed), (later.Relay.Value, later.Relay.From));
        Assert.Equal((5, true), (later.DefaultTtl.Value, later.Models[OnOff].Holds));
        Assert.Equal((false, KnownFrom.Description), (later.AppKeys[3].Holds, later.AppKeys[3].From));
    }

    [Fact]
    public void ADescriptionExportedAfterwards_SaysNothingOfTheTimeBeforeTheChange()
    {
        _talk.Ask(1_000, "801b" + "0300" + "01c0" + "0010").Answer(1_050, "801f" + "00" + "0300" + "01c0" + "0010");
        Assert.False(Model("2026-01-01T00:00:00Z").At(500 * NsPerMs).SubscriptionsOf(OnOff)[Group].IsKnown);
        Assert.True(Model("2026-01-01T00:00:00Z").At(1_500 * NsPerMs).SubscriptionsOf(OnOff)[Group].Holds);
        Assert.Equal(KnownFrom.Description, Model("1969-01-01T00:00:00Z").At(500 * NsPerMs).SubscriptionsOf(OnOff)[Group].From);     // it was so before already
    }

    [Fact]
    public void ARefusedChange_ChangesNothing()
    {
        _talk.Ask(1_000, "803f" + "0300" + "0000" + "0010").Answer(1_050, "803e" + "02" + "0300" + "0000" + "0010");
        Assert.Equal(new Claim(true, KnownFrom.Description), Model("1969-01-01T00:00:00Z").At(long.MaxValue).BindingsOf(OnOff)[0]);
    }

    /// <summary>A node that refuses what the description believes done has it not: binding (Invalid AppKey Index), subscription (Insufficient Resources) and AppKey.</summary>
    [Fact]
    public void WhatWasRefused_IsNotThere_WhateverAnOlderDescriptionSays()
    {
        _talk.Ask(1_000, "803d" + "0300" + "0000" + "0010").Answer(1_050, "803e" + "03" + "0300" + "0000" + "0010");
        _talk.Ask(2_000, "801b" + "0300" + "01c0" + "0010").Answer(2_050, "801f" + "05" + "0300" + "01c0" + "0010");
        NodeState state = Model("1969-01-01T00:00:00Z").At(long.MaxValue), newer = Model("2100-01-01T00:00:00Z").At(long.MaxValue);
        Assert.Equal((false, KnownFrom.Confirmed), (state.BindingsOf(OnOff)[0].Holds, state.BindingsOf(OnOff)[0].From));
        Assert.Equal((false, KnownFrom.Confirmed), (state.SubscriptionsOf(OnOff)[Group].Holds, state.SubscriptionsOf(OnOff)[Group].From));
        Assert.True(newer.BindingsOf(OnOff)[0].Holds && newer.SubscriptionsOf(OnOff)[Group].Holds);        // written after it: somebody set it right
        Assert.True(Model("1969-01-01T00:00:00Z").At(500 * NsPerMs).BindingsOf(OnOff)[0].Holds);
    }

    [Fact]
    public void WithoutDescription_OnlyWhatWasHeardIsKnown()
    {
        // Composition Data Page 0 (§4.2.2.1): CID FFFF, PID 1, VID 1, CRPL 32, features friend; one element with 0000 and 1000.
        _talk.Answer(0, "02" + "00" + "ffff" + "0100" + "0100" + "2000" + "0400" + "0000" + "02" + "00" + "0000" + "0010");
        NodeState state = _talk.Analyse().NodeModels!.Of(Lamp).At(long.MaxValue);
        Assert.True(state.Models[OnOff].Holds);
        Assert.Equal((false, KnownFrom.Confirmed), (state.Models[OnOff with { Model = new ModelNumber(0x1300) }].Holds, state.Models.Others.From));
        Assert.Equal((32, 1), (state.ReplayListSize.Value, state.Elements));
        Assert.Equal((FeatureState.NotSupported, false), (state.Relay.Value, state.Friend.IsKnown));     // it has Friend; whether it is on nobody said
        Assert.False(state.BindingsOf(OnOff)[0].IsKnown);
        Assert.False(state.NetKeys[0].IsKnown);
    }

    [Fact]
    public void ResetNodes_AreOutOfTheNetwork_FromTheirAnswerOn()
    {
        _talk.Ask(1_000, "8049").Answer(1_050, "804a");
        NodeModel model = Model("1969-01-01T00:00:00Z");
        Assert.False(model.At(500 * NsPerMs).OutOfNetwork.IsKnown);
        Assert.True(model.At(2_000 * NsPerMs).OutOfNetwork.Holds);
    }

    private NodeModel Model(string timestamp)
    {
        _talk.Air.Frames.Rewind();
        CaptureHistory history = _talk.Analyse(Description(timestamp));
        return history.NodeModels!.Of(Lamp);
    }
}
