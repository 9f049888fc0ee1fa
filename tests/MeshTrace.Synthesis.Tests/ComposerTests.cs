namespace MeshTrace.Synthesis.Tests;

public class ComposerTests
{
    [Fact]
    public void SameScenario_SameOctets()
    {
        Composed first = Composed.Of(Chain.Json), second = Composed.Of(Chain.Json);
        Assert.Equal(first.Files.Capture, second.Files.Capture);
        Assert.Equal(first.Files.Truth, second.Files.Truth);
        Assert.NotEqual(first.Files.Capture, Composed.Of(Chain.With(("\"seed\": 11", "\"seed\": 12"))).Files.Capture);
    }

    /// <summary>The demo in the repository is what its scenarios give: octet for octet.</summary>
    [Theory]
    [InlineData("library")]
    [InlineData("boathouse")]
    public void Demo_IsRegeneratedByteForByte(string name)
    {
        string folder = Path.Combine(Repository.Root, "captures-demo");
        string made = Directory.CreateTempSubdirectory("composed").FullName;
        try
        {
            ComposeSummary summary = Composer.Compose(Path.Combine(folder, name + ".scenario.json"), made);
            Assert.Equal(name, summary.Name);
            foreach (string path in (string[])[summary.Capture, summary.Description, summary.Truth])
                Assert.True(File.ReadAllBytes(Path.Combine(folder, Path.GetFileName(path))).AsSpan().SequenceEqual(File.ReadAllBytes(path)),
                    Path.GetFileName(path));
        }
        finally
        {
            Directory.Delete(made, recursive: true);
        }
    }

    [Fact]
    public void Demo_IsSmall() => Assert.InRange(new DirectoryInfo(Path.Combine(Repository.Root,
        "captures-demo")).EnumerateFiles().Sum(file => file.Length), 1, 5_000_000);

    /// <summary>The library evening has a lost press for each cause that it is there to show, and most presses work.</summary>
    [Fact]
    public void Library_HasItsLostPresses()
    {
        var composed = Composed.Of(File.ReadAllBytes(Path.Combine(Repository.Root, "captures-demo", "library.scenario.json")));
        var causes = Enumerable.Range(0, composed.Presses.Count()).GroupBy(composed.CauseOf).ToDictionary(group => group.Key, group =>
            group.Count());
        Assert.Superset(new HashSet<string> { "ttl-too-low", "not-subscribed", "appkey-not-bound", "collision", "powered-off", "acted" },
            causes.Keys.ToHashSet());
        Assert.InRange(composed.Presses.Count(), 40, 60);
        Assert.True(causes["acted"] > 30);
        // One press acted although the receiver heard nothing of it.
        Assert.Contains(composed.Presses, press =>
            press.GetProperty("fate").GetString() == "all" && press.GetProperty("floods").EnumerateArray().All(index =>
            composed.Floods.First(flood =>
                flood.GetProperty("flood").GetInt32() == index.GetInt32()).GetProperty("events").EnumerateArray().All(sent =>
                    !sent.TryGetProperty("heard", out _))));
    }

    [Fact]
    public void Boathouse_HasATransferGivenUpAndOneWithRepeatedRounds()
    {
        var composed = Composed.Of(File.ReadAllBytes(Path.Combine(Repository.Root, "captures-demo", "boathouse.scenario.json")));
        Assert.Contains(composed.Transfers, transfer => transfer.GetProperty("outcome").GetString() == "given-up");
        Assert.Contains(composed.Transfers, transfer => transfer.GetProperty("outcome").GetString() == "acknowledged" &&
            transfer.GetProperty("sent").GetArrayLength() > transfer.GetProperty("segments").GetInt32()
                && transfer.GetProperty("acks").GetArrayLength() > 1);
        Assert.Contains(composed.Transfers, transfer =>
            transfer.GetProperty("what").GetString() == "Config AppKey Add" && transfer.GetProperty("segments").GetInt32() == 2);
        Assert.Equal("complete", composed.Truth.GetProperty("configurations")[0].GetProperty("outcome").GetString());
    }
}
