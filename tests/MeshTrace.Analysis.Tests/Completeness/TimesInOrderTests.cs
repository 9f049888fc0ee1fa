using MeshTrace.Analysis.Completeness;

namespace MeshTrace.Analysis.Tests.Completeness;

/// <summary>Against going through all times (common practice, no source).</summary>
public class TimesInOrderTests
{
    [Fact]
    public void FirstFrom_FindsTheSamePlaceWhereverItBegins()
    {
        var random = new Random(11);
        for (int round = 0; round < 200; round++)
        {
            long[] times = [.. Enumerable.Range(0, random.Next(40)).Select(_ => (long)random.Next(30)).Order()];
            for (int timeNs = -1; timeNs <= 31; timeNs++)
            {
                int place = Array.FindIndex(times, time => time >= timeNs) is >= 0 and var found ? found : times.Length;
                for (int near = 0; near <= times.Length; near++)
                    Assert.Equal(place, TimesInOrder.FirstFrom(times, timeNs, near));
            }
        }
    }
}
