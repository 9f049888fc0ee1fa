using System.Runtime.CompilerServices;

namespace MeshTrace.Analysis.History;

/// <summary>
/// An append-only table of rows in chunks: rows never move, so a reference to one stays good, and growing copies nothing.
/// Row numbers are from 0; the records show them from 1.
/// </summary>
public sealed class ChunkedTable<T> where T : unmanaged
{
    private const int ChunkBits = 12;

    /// <summary>Rows of a chunk.</summary>
    public const int ChunkRows = 1 << ChunkBits;

    private const int FirstChunkRows = 256;     // a small capture does not pay for a whole chunk

    private readonly TableMemory? _memory;
    private Stretch<T>[] _chunks = [Stretch<T>.OfItsOwn(FirstChunkRows)];

    /// <summary>Its chunks are arrays of their own.</summary>
    public ChunkedTable()
    {
    }

    /// <param name="memory">Gives the whole chunks.</param>
    internal ChunkedTable(TableMemory memory) => _memory = memory;

    public int Count { get; private set; }

    public ref T this[int row]
    {
        [MethodImpl(MethodImplOptions.AggressiveInlining)]
        get
        {
            if ((uint)row >= (uint)Count)
                ThrowOutOfRange();
            return ref _chunks[row >> ChunkBits][row & (ChunkRows - 1)];
        }
    }

    /// <summary>Chunks with rows in them.</summary>
    public int Chunks => (Count + ChunkRows - 1) >> ChunkBits;

    /// <summary>
    /// The rows of one chunk, <see cref="ChunkRows"/> of them in all but the last one: for whoever goes over all rows, without looking each of them up.
    /// </summary>
    /// <param name="number">From 0; its first row is this times <see cref="ChunkRows"/>.</param>
    public ReadOnlySpan<T> Chunk(int number) => _chunks[number].Rows[..Math.Min(ChunkRows, Count - (number << ChunkBits))];

    /// <summary>Rows that there is room for.</summary>
    public long AllocatedRows
    {
        get
        {
            long rows = 0;
            foreach (Stretch<T> chunk in _chunks)
                rows += chunk.Length;
            return rows;
        }
    }

    /// <summary>Appends a row and returns its number.</summary>
    public int Add(in T row)
    {
        int at = Count & (ChunkRows - 1);
        RoomFor(at + 1)[at] = row;
        return Count++;
    }

    /// <summary>Appends rows in their order.</summary>
    public void AddRange(ReadOnlySpan<T> rows)
    {
        while (!rows.IsEmpty)
        {
            int at = Count & (ChunkRows - 1);
            Span<T> room = RoomFor(at + Math.Min(rows.Length, ChunkRows - at)).Rows[at..];
            int taken = Math.Min(rows.Length, room.Length);
            rows[..taken].CopyTo(room);
            rows = rows[taken..];
            Count += taken;
        }
    }

    /// <summary>
    /// Takes a whole chunk of rows as it is, where the last chunk is full: nothing is copied, and the stretch belongs to the table from now on.
    /// </summary>
    /// <param name="rows">As many as <see cref="ChunkRows"/>.</param>
    /// <returns>False if they do not fit as a chunk: nothing was taken.</returns>
    internal bool TryAdopt(Stretch<T> rows)
    {
        if (rows.Length != ChunkRows || (Count & (ChunkRows - 1)) != 0)
            return false;
        int chunk = Count >> ChunkBits;
        if (chunk == _chunks.Length)
            Array.Resize(ref _chunks, _chunks.Length * 2);
        _chunks[chunk] = rows;
        Count += ChunkRows;
        return true;
    }

    /// <summary>
    /// Gives back the room behind the last row, until more rows come, where the last chunk is an array of its own: references to its rows are not good any more.
    /// </summary>
    public void Trim()
    {
        int chunk = Count >> ChunkBits, used = Count & (ChunkRows - 1);
        if (chunk < _chunks.Length && _chunks[chunk].IsAlone && _chunks[chunk].Length > Math.Max(used, FirstChunkRows))
            Resize(ref _chunks[chunk], used, Stretch<T>.OfItsOwn(Math.Max(used, FirstChunkRows)));
        for (int unused = chunk + 1; unused < _chunks.Length; unused++)
            _chunks[unused] = default;
    }

    /// <summary>The chunk of the next row, with room for so many rows from its beginning on.</summary>
    private Stretch<T> RoomFor(int needed)
    {
        int chunk = Count >> ChunkBits;
        if (chunk == _chunks.Length)
            Array.Resize(ref _chunks, _chunks.Length * 2);
        ref Stretch<T> rows = ref _chunks[chunk];
        if (rows.Length >= needed)
            return rows;
        int length = chunk > 0 && rows.Length == 0 ? ChunkRows : Math.Max(rows.Length, FirstChunkRows);
        while (length < needed)
            length *= 4;
        length = Math.Min(length, ChunkRows);
        Resize(ref rows, Count & (ChunkRows - 1), length == ChunkRows && _memory is not null ? _memory.Take<T>(ChunkRows) : Stretch<T>.OfItsOwn(length));
        return rows;
    }

    private static void Resize(ref Stretch<T> chunk, int used, Stretch<T> other)
    {
        if (used > 0)
            chunk.Rows[..used].CopyTo(other.Rows);
        chunk = other;
    }

    /// <summary>Forgets all rows; the memory is kept for the next ones.</summary>
    public void Clear() => Count = 0;

    private static void ThrowOutOfRange() => throw new ArgumentOutOfRangeException("row");
}
