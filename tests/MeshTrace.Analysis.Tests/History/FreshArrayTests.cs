using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Tests.History;

/// <summary>Memory that was asked for in one call is as good as any other: zeros, all of it writable, whatever its size.</summary>
public class FreshArrayTests
{
    [Theory, InlineData(0), InlineData(1), InlineData(8_191), InlineData(8_192), InlineData(8_193), InlineData(1_000_003)]
    public void IsZeroAndKeepsWhatIsWritten(int length)
    {
        for (int round = 0; round < 3; round++)     // also in memory that was in use before
        {
            long[] fresh = FreshArray.Of<long>(length);
            Assert.Equal(length, fresh.Length);
            Assert.True(fresh.AsSpan().IndexOfAnyExcept(0) < 0);
            for (int at = 0; at < length; at++)
                fresh[at] = at + 1;
            GC.Collect();
            for (int at = 0; at < length; at++)
                Assert.True(fresh[at] == at + 1);
        }
    }
}
