using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Tests.Radio;

public class PathLossTests
{
    [Fact]
    public void Log10_AgreesWithTheFramework()
    {
        for (double value = 0.01; value < 1e6; value *= 1.37)
            Assert.Equal(Math.Log10(value), PathLoss.Log10(value), 12);
    }

    [Theory]
    [InlineData(1, 2.5, 40)]
    [InlineData(10, 2.5, 65)]
    [InlineData(100, 2, 80)]
    [InlineData(0.01, 2, 33.9794)]
    public void LossDb_IsTheFirstMetrePlusTheDecades(double metres, double exponent, double db) =>
        Assert.Equal(db, PathLoss.LossDb(metres, exponent), 3);

    [Theory]
    [InlineData(0, 0, 10, 0, 5, -1, 5, 1, true)]
    [InlineData(0, 0, 10, 0, 5, 1, 5, 3, false)]
    [InlineData(0, 0, 4, 0, 5, -1, 5, 1, false)]
    public void Crosses_TellsAWallBetween(double ax, double ay, double bx, double by, double cx, double cy, double dx, double dy,
        bool crosses) =>
        Assert.Equal(crosses, PathLoss.Crosses(new Place(ax, ay), new Place(bx, by), new Place(cx, cy), new Place(dx, dy)));
}
