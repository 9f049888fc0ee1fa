using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Tests.Findings.Press;

/// <summary>A relay that messages come to with TTL 1 sends none of them on, and rightly so (Mesh Protocol 1.1 §3.4.6.3).</summary>
public sealed class RelayAtTheLastHopTests
{
    private const ushort Panel = 0x0001, Lamp = 0x0005;

    /// <summary>A panel asks a lamp that should relay, which answers; no relayed copy is heard of anything.</summary>
    [Theory]
    [InlineData(2, false)]      // it may have come over a relay that was not heard, with TTL 1
    [InlineData(3, false)]
    [InlineData(4, true)]
    [InlineData(7, true)]
    public void ItIsSaidToRelayNothing_OnlyWhereItCouldHave(byte ttl, bool told)
    {
        var air = new AirBuilder();
        for (uint press = 0; press < 60; press++)
        {
            air.Access(press * 3_000, ttl, 100 + press, Panel, 0xC001, $"8202{press % 2:x2}{press:x2}");
            air.Access((press * 3_000) + 100, 5, 100 + press, Lamp, Panel, $"8204{press % 2:x2}");
        }
        var light = new DescribedModel { Element = new MeshAddress(Lamp), ModelId = 0x1000, Subscribe = [new DescribedAddress(new MeshAddress(0xC001))], Bind = [0] };
        var analysis = new CaptureAnalysis(new AnalysisSettings
        {
            Description = new NetworkDescription
            {
                NetKeys = [new DescribedNetKey { Index = 0, Key = new KeyOctets(AirBuilder.NetKey) }],
                AppKeys = [new DescribedAppKey { Index = 0, BoundNetKey = 0, Key = new KeyOctets(AirBuilder.AppKey) }],
                Nodes =
                [
                    new DescribedNode
                    {
                        Name = "stairs lamp", Unicast = new MeshAddress(Lamp), Features = DescribedFeatures.Unknown with { Relay = FeatureState.Enabled },
                        Elements = [new DescribedElement { Index = 0, Address = new MeshAddress(Lamp), Models = [light] }],
                    },
                ],
            },
        });
        analysis.Read(air.Frames);
        Assert.Equal(told ? 1 : 0, analysis.Complete().Of("relay-not-forwarding").Count);
    }
}
