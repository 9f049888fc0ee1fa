using System.Numerics;
using MeshTrace.Analysis.Findings;

namespace MeshTrace.Analysis.Tests.Findings;

/// <summary>Chances of silences, against counting every case.</summary>
public class SilenceChanceTests
{
    /// <summary>Of all orders of the answers heard among those owed, so many leave a run without one: the limit is never below their share.</summary>
    [Theory]
    [InlineData(3, 4, 10), InlineData(6, 4, 10), InlineData(5, 2, 8), InlineData(12, 4, 16), InlineData(2, 9, 12), InlineData(7, 0, 7)]
    public void AnOrder_IsNeverLessLikelyThanByCounting(int length, int heard, int owed)
    {
        int all = 0, with = 0;
        for (uint order = 0; order < 1u << owed; order++)
        {
            if (BitOperations.PopCount(order) != heard)
                continue;
            all++;
            int run = 0, longest = 0;
            for (int at = 0; at < owed; at++)
                longest = Math.Max(longest, run = (order >> at & 1) == 0 ? run + 1 : 0);
            with += longest >= length ? 1 : 0;
        }
        double limit = SilenceChance.OfOrder(length, heard, owed);
        Assert.InRange(limit, (with / (double)all) - 1e-12, 1);
        if (heard > 0 && 2 * length > owed)      // then only one such run fits, and the limit is the share itself
            Assert.Equal(with / (double)all, limit, 1e-9);
    }

    [Fact]
    public void AnOrderThatCannotBe_HasNoChance() => Assert.Equal(0, SilenceChance.OfOrder(5, 6, 10));

    [Theory]
    [InlineData(10, 10, 0.01, 0.01), InlineData(1, 10, 0.05, 0.5), InlineData(8, 10, 0.6, 1)]
    public void ARun_CountsForEachPlaceWhereItMayLie(int length, int owed, double chance, double expected) => Assert.Equal(expected, SilenceChance.OfRun(length, owed, chance), 1e-12);

    [Theory]
    [InlineData(0, 10, 0.2, 1), InlineData(2, 10, 0.5, 1), InlineData(10, 10, 0.5, 1 / 1024.0), InlineData(3, 3, 0.9, 0.729), InlineData(5, 10, 0, 0)]
    public void SoManySilences_WhereTheMeanAlreadyExpectsThem_TellNothing(int missing, int owed, double missChance, double expected) =>
        Assert.Equal(expected, SilenceChance.OfSoMany(missing, owed, missChance), 1e-12);
}
