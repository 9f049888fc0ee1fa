using System.Globalization;
using System.Text;
using MeshTrace.Analysis.Description;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Tests.Description;

/// <summary>A large building: 1,000 subnets and 10,000 nodes. (How long it takes is a benchmark.)</summary>
public sealed class LargeDescriptionTests
{
    private const int Subnets = 1_000, Nodes = 10_000;

    [Fact]
    public void EverythingIsRead()
    {
        NetworkDescription description = NetworkDescriptionReader.Read(Write(), "large.json");
        Assert.Equal((Subnets, Nodes), (description.NetKeys.Count, description.Nodes.Count));
        Assert.Equal((ushort)29_998, description.Nodes[^1].Unicast.Value);
        Assert.Equal("Lamp 9999", description.NameOf(new MeshAddress(29_999))[..9]);
        Assert.Empty(description.ContestedAddresses);
        Assert.Equal(Nodes, description.SubscribersOf(new MeshAddress(0xC000), [0x1000]).Count);
        Assert.Equal(Nodes / 100, description.SubscribersOf(new MeshAddress(0xC001), [0x1300]).Count);
    }

    private static byte[] Write()
    {
        var json = new StringBuilder("""{ "version": "1.0.1", "netKeys": [ """);
        for (int i = 0; i < Subnets; i++)
            json.Append(CultureInfo.InvariantCulture, $$"""{{(i == 0 ? "" : ",")}}{ "index": {{i}}, "key": "{{i:X32}}" }""");
        json.Append("], \"nodes\": [ ");
        for (int i = 0; i < Nodes; i++)
        {
            json.Append(CultureInfo.InvariantCulture, $$"""
                {{(i == 0 ? "" : ",")}}{ "unicastAddress": "{{1 + (3 * i):X4}}", "name": "Lamp {{i}}", "deviceKey": "{{i:X32}}", "elements": [
                  { "index": 0, "models": [ { "modelId": "1000", "subscribe": [ "C000" ] }, { "modelId": "1300", "subscribe": [ "{{0xC001 + (i % 100):X4}}" ] } ] },
                  { "index": 1, "models": [ { "modelId": "1002", "subscribe": [ "C000" ] } ] },
                  { "index": 2, "models": [] } ] }
                """);
        }
        json.Append(" ] }");
        return Encoding.UTF8.GetBytes(json.ToString());
    }
}
