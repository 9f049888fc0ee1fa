using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Tests.Radio;

public class ScanPlanTests
{
    [Theory]
    [InlineData(0, 300, 37)]
    [InlineData(30_000, 30_300, 38)]
    [InlineData(60_000, 60_300, 39)]
    [InlineData(90_000, 90_300, 37)]
    public void Hopping_TakesTheChannelsInTurn(long fromUs, long untilUs, int channel)
    {
        var plan = new ScanPlan(0, 30_000, 30_000, 0);
        Assert.Equal([channel], Enumerable.Range(37, 3).Where(candidate => plan.Listens(candidate, fromUs, untilUs)));
    }

    [Fact]
    public void PacketOverTheChange_IsNotHeard() => Assert.DoesNotContain(true,
        Enumerable.Range(37, 3).Select(channel => new ScanPlan(0, 30_000, 30_000, 0).Listens(channel, 29_900, 30_100)));

    [Fact]
    public void OutsideTheWindow_NothingIsHeard()
    {
        var plan = new ScanPlan(38, 30_000, 10_000, 0);
        Assert.True(plan.Listens(38, 9000, 9300));
        Assert.False(plan.Listens(38, 11_000, 11_300));
        Assert.False(plan.Listens(37, 9000, 9300));
    }
}
