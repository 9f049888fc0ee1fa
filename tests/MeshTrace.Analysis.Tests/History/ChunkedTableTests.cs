using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Tests.History;

public class ChunkedTableTests
{
    /// <summary>Over the ends of chunks (8,192 rows), into chunks that are small yet, and beside rows that came one by one.</summary>
    [Theory, InlineData(1), InlineData(255), InlineData(257), InlineData(4_096), InlineData(8_191), InlineData(20_000)]
    public void RowsAppendedTogether_StandAsThoseAppendedOneByOne(int together)
    {
        ChunkedTable<int> one = new(), many = new();
        int[] rows = [.. Enumerable.Range(0, together)];
        for (int round = 0; round < 5; round++)
        {
            foreach (int row in rows)
                one.Add(row);
            many.AddRange(rows);
            one.Add(-1);
            many.Add(-1);
        }
        Assert.Equal(one.Count, many.Count);
        for (int row = 0; row < one.Count; row++)
            Assert.Equal(one[row], many[row]);
    }
}
