namespace MeshTrace.Analysis.History;

/// <summary>Octets of many small payloads, back to back in chunks; a payload is known by where it begins and its length.</summary>
public sealed class OctetArena
{
    private const int ChunkOctets = 1 << 16;    // above any access payload (380 octets), so no payload is split
    private readonly List<byte[]> _chunks = [];
    private int _used = ChunkOctets;

    /// <summary>Stores a copy and returns where it begins.</summary>
    public long Add(ReadOnlySpan<byte> octets)
    {
        if (octets.IsEmpty)
            return 0;       // needs no room, and the first payload of all may be empty
        if (octets.Length > ChunkOctets)
            throw new ArgumentException("longer than a chunk", nameof(octets));
        if (_used + octets.Length > ChunkOctets)
        {
            _chunks.Add(new byte[ChunkOctets]);
            _used = 0;
        }
        octets.CopyTo(_chunks[^1].AsSpan(_used));
        long at = ((long)(_chunks.Count - 1) << 16) | (uint)_used;
        _used += octets.Length;
        return at;
    }

    public ReadOnlySpan<byte> this[long at, int length] => _chunks[(int)(at >> 16)].AsSpan((int)(at & 0xFFFF), length);

    public long AllocatedOctets => (long)_chunks.Count * ChunkOctets;

    public void Clear()
    {
        _chunks.Clear();
        _used = ChunkOctets;
    }
}
