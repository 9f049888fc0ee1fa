using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.ReceiversEye;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Tests.ReceiversEye;

/// <summary>A node that was reset is in no network: that, and not a missing key, is why it does not act (Mesh Protocol 1.1 §4.3.2.53).</summary>
public sealed class EyeOutOfNetworkTests
{
    private static readonly ReadingRoom Room = new()
    {
        Schedule = """
            {"atS": 5, "press": "panel", "asks": "on", "acknowledged": true}, {"atS": 15, "configure": "lamp", "by": "tablet", "steps": ["reset"]},
            {"atS": 30, "press": "panel", "asks": "off", "acknowledged": true}
            """,
    };

    [Fact]
    public void AfterItsReset_TheEyeSaysThatItIsOut_NotBefore()
    {
        CaptureHistory history = ComposedNetwork.Of(Room.ToScenario()).History;
        var lamp = new MeshAddress(0x0030);
        Assert.Equal((EyeVerdict.Acted, false), (history.ReceiversEye(0, lamp).Verdict, history.ReceiversEye(0, lamp).OutOfNetwork));
        EyeView after = history.ReceiversEye(1, lamp);
        Assert.Equal((EyeVerdict.Rejected, ReceiveStep.NetworkKey, true), (after.Verdict, after.Step, after.OutOfNetwork));
        Assert.False(history.ReceiversEye(1, new MeshAddress(0x0040)).OutOfNetwork);
    }

    /// <summary>Config messages tell of some subscribers, never that there is no other: without a description nobody knows who should act.</summary>
    [Fact]
    public void WithoutADescription_SubscriptionsHeardDoNotMakeAnAnswerOfAll()
    {
        string configured = (Room with { Lamp = ", \"configured\": false", Schedule = """{"atS": 3, "provision": "lamp", "by": "tablet"}, {"atS": 12, "configure": "lamp", "by": "tablet"}, {"atS": 30, "press": "panel", "asks": "on", "acknowledged": true}""" }).ToScenario();
        CaptureHistory described = ComposedNetwork.Of(configured).History;
        Assert.Equal([0x0030, 0x0040], described.Presses[0].Expected!.Select(element => (int)element.Value));
        CaptureHistory keysAlone = ComposedNetwork.Of(configured, truth => new KeyArguments
        {
            ProvisioningKeys = [Convert.FromHexString(truth.GetProperty("provisionings")[0].GetProperty("privateKey").GetString()!)],
        }).History;
        Assert.NotEmpty(keysAlone.Configuration!.Changes);
        Assert.Null(keysAlone.Presses[0].Expected);
        Assert.Equal(Analysis.Presses.PressOutcome.Unknown, keysAlone.Presses[0].Outcome);
        Assert.NotEmpty(keysAlone.Presses[0].Answers);
    }
}
