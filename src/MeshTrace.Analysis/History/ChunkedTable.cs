namespace MeshTrace.Analysis.History;

/// <summary>
/// An append-only table of rows in chunks: rows never move, so a reference to one stays good, and growing copies nothing.
/// Row numbers are from 0; the records show them from 1.
/// </summary>
public sealed class ChunkedTable<T> where T : struct
{
    private const int ChunkBits = 12;

    /// <summary>Rows of a chunk.</summary>
    public const int ChunkRows = 1 << ChunkBits;

    private const int FirstChunkRows = 256;     // a small capture does not pay for a whole chunk

    private T[][] _chunks = [new T[FirstChunkRows]];

    public int Count { get; private set; }

    public ref T this[int row]
    {
        get
        {
            if ((uint)row >= (uint)Count)
                throw new ArgumentOutOfRangeException(nameof(row));
            return ref _chunks[row >> ChunkBits][row & (ChunkRows - 1)];
        }
    }

    /// <summary>Octets held by the rows, unused room included.</summary>
    public long AllocatedRows
    {
        get
        {
            long rows = 0;
            foreach (T[] chunk in _chunks)
                rows += chunk?.Length ?? 0;
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
            Span<T> room = RoomFor(at + Math.Min(rows.Length, ChunkRows - at)).AsSpan(at);
            int taken = Math.Min(rows.Length, room.Length);
            rows[..taken].CopyTo(room);
            rows = rows[taken..];
            Count += taken;
        }
    }

    /// <summary>
    /// Takes a whole chunk of rows as it is, where the last chunk is full: nothing is copied, and the array belongs to the table from now on.
    /// </summary>
    /// <param name="rows">As many as <see cref="ChunkRows"/>.</param>
    /// <returns>False if they do not fit as a chunk: nothing was taken.</returns>
    public bool TryAdopt(T[] rows)
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

    /// <summary>Gives back the room behind the last row, until more rows come: references to rows of the last chunk are not good any more.</summary>
    public void Trim()
    {
        int chunk = Count >> ChunkBits, used = Count & (ChunkRows - 1);
        if (chunk < _chunks.Length && _chunks[chunk] is { } last && last.Length > Math.Max(used, FirstChunkRows))
            Array.Resize(ref _chunks[chunk], Math.Max(used, FirstChunkRows));
        for (int unused = chunk + 1; unused < _chunks.Length; unused++)
            _chunks[unused] = null!;
    }

    /// <summary>The chunk of the next row, with room for so many rows from its beginning on.</summary>
    private T[] RoomFor(int needed)
    {
        int chunk = Count >> ChunkBits;
        if (chunk == _chunks.Length)
            Array.Resize(ref _chunks, _chunks.Length * 2);
        T[] rows = _chunks[chunk] ??= FreshArray.Of<T>(ChunkRows);
        if (needed > rows.Length)
        {
            int length = Math.Max(rows.Length, FirstChunkRows);
            while (length < needed)
                length *= 4;
            Array.Resize(ref rows, Math.Min(length, ChunkRows));
            _chunks[chunk] = rows;
        }
        return rows;
    }

    /// <summary>Forgets all rows; the memory is kept for the next ones.</summary>
    public void Clear() => Count = 0;
}
