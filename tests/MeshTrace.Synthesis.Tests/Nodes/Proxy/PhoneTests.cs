using System.Text.Json;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;
using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Tests.Nodes.Proxy;

/// <summary>A phone at the first relay of the chain: what it writes goes on the air with its TTL lowered, what comes back passes the filter.</summary>
public class PhoneTests
{
    private const string Phone = """
        {"name": "phone", "place": [1000, 5], "unicast": "0040", "sequence": 900, "phone": {"proxy": "relay a", "fromS": 1, "untilS": 25},
         "elements": [{"models": ["1001", "1000"], "subscribe": ["Slipway"], "publish": {"to": "Jetty"}}]}
        """;

    private static readonly (string, string)[] WithPhone =
    [
        ("\"place\": [1000, 0],", "\"place\": [1000, 0], \"proxy\": true,"),
        ("\"subscribe\": [\"Jetty\"]}]}\n", "\"subscribe\": [\"Jetty\"]}]},\n" + Phone + "\n"),
        ("\"schedule\": [{\"atS\": 1, \"press\": \"panel\", \"asks\": \"on\", \"acknowledged\": true}]",
            """
            "schedule": [{"atS": 6, "press": "phone", "asks": "on", "acknowledged": true}, {"atS": 10, "press": "panel", "asks": "on", "to": "Slipway", "appKey": 0},
              {"atS": 27, "press": "phone", "asks": "off"}]
            """),
    ];

    private static Composed Play(string? fault = null) => Composed.Of(fault is null ? Chain.With(WithPhone) : Chain.WithFault(fault, WithPhone));

    [Fact]
    public void WhatThePhoneWrites_IsAnsweredByTheFarLamp()
    {
        Composed composed = Play();
        Assert.Equal("acted", composed.CauseOf(0));
        Assert.Equal(JsonValueKind.String, composed.Presses.First().GetProperty("answered")[0].GetProperty("arrived").ValueKind);
        Assert.Equal("acted", composed.CauseOf(1));
        JsonElement request = composed.Floods.First(flood => flood.GetProperty("src").GetString() == "0x0040");
        JsonElement written = request.GetProperty("gatt")[0];
        Assert.Equal(("phone", 5), (written.GetProperty("from").GetString(), written.GetProperty("ttl").GetInt32()));
        JsonElement first = request.GetProperty("events")[0];
        Assert.Equal(("relay a", 4), (first.GetProperty("by").GetString(), first.GetProperty("ttl").GetInt32()));
        Assert.DoesNotContain(composed.Floods, flood => flood.GetProperty("events").EnumerateArray().Any(sent => sent.GetProperty("by").GetString() == "phone"));
    }

    [Fact]
    public void Connection_StandsInTheTruth()
    {
        JsonElement connection = Assert.Single(Play().Truth.GetProperty("proxyConnections").EnumerateArray());
        Assert.Equal("closed", connection.GetProperty("outcome").GetString());
        Assert.Equal(["0x0040", "0xC002"], connection.GetProperty("asked").EnumerateArray().Select(address => address.GetString()));
        // The phone's request, and the state that its own server publishes once the panel has pressed.
        Assert.Equal((2, 2, 0), (connection.GetProperty("written").GetInt32(), connection.GetProperty("putOnAir").GetInt32(), connection.GetProperty("blocked").GetInt32()));
        Assert.False(Composed.Of(Chain.Json).Truth.TryGetProperty("proxyConnections", out _));
    }

    [Fact]
    public void Log_IsAnInterfaceOfTheCapture_InOrderOfTime()
    {
        using IFrameSource source = CaptureFile.Open(new MemoryStream(Play().Files.Capture), "composed");
        long last = 0;
        int frames = 0;
        while (source.TryReadNext(out CapturedFrame frame))
        {
            Assert.True(frame.TimeNs >= last);
            last = frame.TimeNs;
            frames += frame.LinkType == LinkType.HciH4WithDirection ? 1 : 0;
        }
        Assert.True(frames > 20);
    }

    [Theory]
    [InlineData(null, 2, "not-sent (no-proxy)")]
    [InlineData("{\"fault\": \"proxy-not-forwarding\", \"node\": \"relay a\"}", 0, "proxy-not-forwarding")]
    [InlineData("{\"fault\": \"proxy-not-forwarding\", \"node\": \"relay a\"}", 1, "acted")]
    [InlineData("{\"fault\": \"proxy-filter-blocks\", \"node\": \"phone\"}", 1, "proxy-filter")]
    [InlineData("{\"fault\": \"proxy-filter-blocks\", \"node\": \"phone\", \"group\": \"Slipway\"}", 1, "proxy-filter")]
    [InlineData("{\"fault\": \"proxy-filter-blocks\", \"node\": \"phone\", \"room\": 1}", 1, "proxy-filter")]
    [InlineData("{\"fault\": \"proxy-filter-blocks\", \"node\": \"phone\", \"room\": 2}", 1, "acted")]
    [InlineData("{\"fault\": \"lamp-powered-off\", \"node\": \"relay a\", \"untilS\": 3}", 0, "not-sent (no-proxy)")]
    [InlineData("{\"fault\": \"lamp-powered-off\", \"node\": \"relay a\", \"fromS\": 5, \"untilS\": 28}", 2, "not-sent (no-proxy)")]
    public void Press_MeetsItsFate(string? fault, int press, string cause) => Assert.Equal(cause, Play(fault).CauseOf(press));

    [Theory]
    [InlineData("\"proxy\": \"relay a\"", "\"proxy\": \"relay b\"", "$.nodes[4].phone.proxy")]
    [InlineData("\"sequence\": 900", "\"relay\": true", "$.nodes[4].relay")]
    [InlineData("\"untilS\": 25", "\"untilS\": 1", "$.nodes[4].phone.untilS")]
    [InlineData("\"untilS\": 25", "\"untilZ\": 1", "$.nodes[4].phone.untilZ")]
    public void AWrongPhone_IsRefused(string old, string with, string path)
    {
        ScenarioException wrong = Assert.Throws<ScenarioException>(() => Composed.Of(Chain.With(WithPhone).Replace(old, with, StringComparison.Ordinal)));
        Assert.Contains(path, wrong.Message, StringComparison.Ordinal);
    }

    [Theory]
    [InlineData("{\"fault\": \"proxy-filter-blocks\", \"node\": \"panel\"}")]
    [InlineData("{\"fault\": \"proxy-filter-blocks\", \"node\": \"phone\", \"group\": \"Jetty\"}")]
    [InlineData("{\"fault\": \"proxy-not-forwarding\", \"node\": \"relay b\"}")]
    public void AFaultOfNoPhone_IsRefused(string fault) => Assert.Throws<ScenarioException>(() => Play(fault));
}
