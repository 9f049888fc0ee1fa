namespace MeshTrace.Analysis.Floods;

/// <summary>Numbers advertiser addresses from 0 in the order met. Looked up once for every copy, so it is an open table of its own.</summary>
internal sealed class AdvertiserTable
{
    private const int FirstSlots = 1 << 10;

    private ulong[] _keys = new ulong[FirstSlots];      // address + 1; 0 = free
    private int[] _rows = new int[FirstSlots];
    private readonly List<ulong> _addresses = [];

    public int Count => _addresses.Count;

    public ulong this[int row] => _addresses[row];

    /// <summary>Number of an address of 48 bits; a new one if it was not met before.</summary>
    public int Intern(ulong address)
    {
        int slot = FindSlot(address + 1);
        if (_keys[slot] != 0)
            return _rows[slot];
        _keys[slot] = address + 1;
        _rows[slot] = _addresses.Count;
        _addresses.Add(address);
        if (_addresses.Count > _keys.Length / 2)
            Grow();
        return _addresses.Count - 1;
    }

    /// <summary>Number of an address, or -1.</summary>
    public int Find(ulong address) => FindSlot(address + 1) is var slot && _keys[slot] != 0 ? _rows[slot] : -1;

    private int FindSlot(ulong key)
    {
        int mask = _keys.Length - 1;
        int slot = (int)(unchecked(key * 0x9E3779B97F4A7C15) >> 40) & mask;
        while (_keys[slot] != 0 && _keys[slot] != key)
            slot = (slot + 1) & mask;
        return slot;
    }

    private void Grow()
    {
        _keys = new ulong[_keys.Length * 2];
        _rows = new int[_keys.Length];
        for (int row = 0; row < _addresses.Count; row++)
        {
            int slot = FindSlot(_addresses[row] + 1);
            _keys[slot] = _addresses[row] + 1;
            _rows[slot] = row;
        }
    }
}
