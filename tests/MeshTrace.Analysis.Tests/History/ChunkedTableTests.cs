using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Tests.History;

public class ChunkedTableTests
{
    /// <summary>Over the ends of chunks (4,096 rows), into chunks that are small yet, and beside rows that came one by one.</summary>
    [Theory, InlineData(1), InlineData(255), InlineData(257), InlineData(4_095), InlineData(4_096), InlineData(8_191), InlineData(20_000)]
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

    [Fact]
    public void WholeChunk_IsTakenAsItLies()
    {
        var table = new ChunkedTable<int>();
        Stretch<int> first = Numbers(ChunkedTable<int>.ChunkRows, 1), second = Numbers(ChunkedTable<int>.ChunkRows, -1);
        Assert.True(table.TryAdopt(first));
        Assert.True(table.TryAdopt(second));
        table.Add(7);
        Assert.Equal((2 * first.Length) + 1, table.Count);
        table[1] = 99;
        Assert.Equal((99, 99, -1, 7), (first[1], table[1], table[first.Length + 1], table[table.Count - 1]));
        table.Trim();
        Assert.Equal((99, -4_095, 7), (table[1], table[(2 * first.Length) - 1], table[2 * first.Length]));
    }

    /// <summary>Fewer rows than a chunk has, or behind a chunk that is not full: the rows stay with who gave them.</summary>
    [Theory, InlineData(4_096, 1), InlineData(4_095, 0), InlineData(8_192, 0)]
    public void WhatIsNoChunk_IsRefused(int rows, int before)
    {
        var table = new ChunkedTable<int>();
        for (int row = 0; row < before; row++)
            table.Add(row);
        Assert.False(table.TryAdopt(Stretch<int>.OfItsOwn(rows)));
        Assert.Equal(before, table.Count);
    }

    [Theory, InlineData(0), InlineData(1), InlineData(300), InlineData(4_096), InlineData(4_097), InlineData(12_288)]
    public void Chunks_HoldEveryRowOnce_InOrder(int rows)
    {
        var table = new ChunkedTable<int>();
        for (int row = 0; row < rows; row++)
            table.Add(row);
        var met = new List<int>();
        for (int chunk = 0; chunk < table.Chunks; chunk++)
        {
            Assert.Equal(chunk * ChunkedTable<int>.ChunkRows, met.Count);
            foreach (int row in table.Chunk(chunk))
                met.Add(row);
        }
        Assert.Equal(Enumerable.Range(0, rows), met);
    }

    private static Stretch<int> Numbers(int rows, int step)
    {
        Stretch<int> numbers = Stretch<int>.OfItsOwn(rows);
        for (int row = 0; row < rows; row++)
            numbers[row] = row * step;
        return numbers;
    }
}
