using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Tests.History;

/// <summary>Stretches are each other's neighbours in large slabs, and yet each is its owner's alone.</summary>
public class TableMemoryTests
{
    private const int Rows = 4_096;

    /// <summary>Of different sizes, more than a slab of 32 MiB holds, from two threads.</summary>
    [Fact]
    public void Stretches_KeepWhatIsWritten_AndShareNothing()
    {
        var memory = new TableMemory();
        var longs = new Stretch<long>[400];
        var threes = new Stretch<Three>[400];
        Parallel.For(0, longs.Length + threes.Length, new ParallelOptions { MaxDegreeOfParallelism = 2 }, number =>
        {
            int at = number / 2;
            if (number % 2 == 0)
                (longs[at] = memory.Take<long>(Rows)).Rows.Fill(at);
            else
                (threes[at] = memory.Take<Three>(Rows)).Rows.Fill(new Three(at, -at, at));
        });
        GC.Collect();
        for (int at = 0; at < longs.Length; at++)
        {
            Assert.Equal(Rows, longs[at].Rows.Count(at));
            Assert.Equal(Rows, threes[at].Rows.Count(new Three(at, -at, at)));
        }
        Assert.Equal((long)longs.Length * Rows * (sizeof(long) + 12), memory.Taken);
    }

    /// <summary>A small capture has arrays of its own, which end with it; what a slab has room for behind its last stretch is told.</summary>
    [Fact]
    public void FirstStretches_AreAlone_AndLaterOnesInSlabs()
    {
        var memory = new TableMemory();
        Assert.True(memory.Take<long>(Rows).IsAlone);
        Assert.Equal(0, memory.Untouched);
        for (int number = 0; number < 40; number++)
            memory.Take<long>(Rows);
        Assert.False(memory.Take<long>(Rows).IsAlone);
        Assert.InRange(memory.Untouched, 20 << 20, 32 << 20);
    }

    /// <summary>The last reference to a row keeps its slab; with it the slab goes.</summary>
    [Fact]
    public void Slab_GoesWithItsLastStretch()
    {
        WeakReference<byte[]> slab = Used(out int sum);
        Assert.Equal(Rows, sum);
        GC.Collect();
        GC.WaitForPendingFinalizers();
        GC.Collect();
        Assert.False(slab.TryGetTarget(out _));

        [System.Runtime.CompilerServices.MethodImpl(System.Runtime.CompilerServices.MethodImplOptions.NoInlining)]
        static WeakReference<byte[]> Used(out int sum)
        {
            var memory = new TableMemory();
            Stretch<int> stretch = default;
            for (int number = 0; number < 100; number++)
                stretch = memory.Take<int>(Rows);
            stretch.Rows.Fill(1);
            ref int last = ref stretch[Rows - 1];
            var slab = new WeakReference<byte[]>(stretch.Array!);
            stretch = default;
            GC.Collect();
            sum = last * Rows;
            return slab;
        }
    }

    [Theory, InlineData(-8, 1), InlineData(4, 1), InlineData(0, 9), InlineData(64, 1), InlineData(8, 8)]
    public void StretchOutsideItsArray_IsRefused(int at, int rows) =>
        Assert.Throws<ArgumentOutOfRangeException>(() => new Stretch<long>(new byte[64], at, rows));

    private readonly record struct Three(int A, int B, int C);
}
