using System.Text;
using MeshTrace.Benchmarks.Accuracy;
using MeshTrace.Synthesis;

namespace MeshTrace.Analysis.Tests.Accuracy;

/// <summary>The networks of the accuracy run are drawn the same way every time, and each of them can be composed.</summary>
public class NetworkDrawingTests
{
    [Fact]
    public void SameSeed_SameNetworks()
    {
        for (int index = 0; index < 12; index++)
            Assert.Equal(Text(NetworkDrawing.Draw(5, index)), Text(NetworkDrawing.Draw(5, index)));
        Assert.NotEqual(Text(NetworkDrawing.Draw(5, 0)), Text(NetworkDrawing.Draw(6, 0)));
        Assert.NotEqual(Text(NetworkDrawing.Draw(5, 0)), Text(NetworkDrawing.Draw(5, 1)));
    }

    /// <summary>First and last draws of a generator whose numbers are known: seed 0 (first output of SplitMix64, from memory).</summary>
    [Fact]
    public void Chance_IsSplitMix64() => Assert.Equal(0xE220A8397B1DCDAFUL, new Chance(0).Next());

    [Fact]
    public void Draws_VaryAsTheDocumentSays()
    {
        DrawnNetwork[] drawn = [.. Enumerable.Range(0, 60).Select(index => NetworkDrawing.Draw(77, index))];
        Assert.All(drawn, network => Assert.InRange(network.Nodes.Count, 4, 41));
        Assert.Equal(20, drawn.Count(network => network.HeardShare < 0.15));
        Assert.Equal(20, drawn.Count(network => network.HeardShare >= 0.4));
        Assert.InRange(drawn.Select(network => network.Nodes.Count).Distinct().Count(), 8, 40);
        Assert.Equal(["37", "38", "39", "hop", "three"], drawn.Select(network => network.Channels).Distinct().Order());
        Assert.Contains(drawn, network => network.StableAddresses);
        Assert.Contains(drawn, network => !network.StableAddresses);
        Assert.InRange(NetworkDrawing.Draw(77, 0, Needs.Crowd).GroupLamps.Count, 10, 20);
        Assert.Equal(4, NetworkDrawing.Draw(77, 0, Needs.Far).Relays.Count);
    }

    /// <summary>A drawn network works: without fault nearly every press reaches all that it is for.</summary>
    [Fact]
    public void DrawnNetworks_Work()
    {
        int all = 0, served = 0;
        for (int index = 0; index < 4; index++)
        {
            TruthFile truth = TruthFile.Read(Composer.ComposeInMemory(NetworkDrawing.Draw(99, index).With()).Truth);
            all += truth.Presses.Count;
            served += truth.Presses.Count(press => press.Meant.All(element => press.Acted.Contains(element)));
        }
        Assert.True(served >= 0.97 * all, $"{served} of {all}");
    }

    private static string Text(DrawnNetwork network) => Encoding.UTF8.GetString(network.With());
}
