using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Tests.Radio;

public class RandomnessTests
{
    // Computed by a separate program in another language from the algorithms' public descriptions (xoshiro256**, seeded by SplitMix64).
    [Theory]
    [InlineData(0UL, 0x99ec5f36cb75f2b4UL, 0xbf6e1f784956452aUL, 0x1a5f849d4933e6e0UL, 0x6aa594f1262d2d2cUL)]
    [InlineData(42UL, 0x15780b2e0c2ec716UL, 0x6104d9866d113a7eUL, 0xae17533239e499a1UL, 0xecb8ad4703b360a1UL)]
    public void FirstNumbers_AreThoseOfTheAlgorithm(ulong seed, ulong first, ulong second, ulong third, ulong fourth)
    {
        var random = new Randomness(seed);
        Assert.Equal([first, second, third, fourth], new[] { random.Next64(), random.Next64(), random.Next64(), random.Next64() });
    }

    [Fact]
    public void Forks_DoNotDependOnHowMuchWasDrawnBefore()
    {
        Randomness fresh = new(7), used = new(7);
        used.Next64();
        Assert.Equal(fresh.Fork("a").Next64(), used.Fork("a").Next64());
        Assert.NotEqual(fresh.Fork("a").Next64(), fresh.Fork("b").Next64());
        Assert.NotEqual(fresh.Fork("a", 1).Next64(), fresh.Fork("a", 2).Next64());
    }

    [Fact]
    public void Between_StaysWithinAndReachesBothEnds()
    {
        var random = new Randomness(3);
        var seen = Enumerable.Range(0, 1000).Select(_ => random.Between(-2, 2)).ToHashSet();
        Assert.Equal([-2, -1, 0, 1, 2], seen.Order());
    }
}
