using MeshTrace.Protocol;

namespace MeshTrace.Analysis.History;

/// <summary>
/// A value for each of some mesh addresses, found without hashing and forgotten in no time: scratch of work that is done press by press, for many thousand of
/// them. Its room is made in pages of 256 addresses, so that it grows with the addresses in use.
/// </summary>
internal sealed class AddressMap<T>
{
    private const int PageBits = 8, PageMask = (1 << PageBits) - 1;

    private readonly Place[]?[] _pages = new Place[]?[1 << (16 - PageBits)];
    private int _round = 1;

    /// <summary>Addresses that have a value.</summary>
    public int Count { get; private set; }

    /// <summary>Gives an address its value, unless it has one.</summary>
    /// <returns>True if it had none.</returns>
    public bool TryAdd(MeshAddress address, T value)
    {
        ref Place entry = ref (_pages[address.Value >> PageBits] ??= new Place[1 << PageBits])[address.Value & PageMask];
        if (entry.Round == _round)
            return false;
        entry = new Place { Round = _round, Value = value };
        Count++;
        return true;
    }

    /// <summary>The value of an address, to be changed in place; it is given the usual one of its type if it has none.</summary>
    public ref T Entry(MeshAddress address)
    {
        TryAdd(address, default!);
        return ref _pages[address.Value >> PageBits]![address.Value & PageMask].Value;
    }

    /// <summary>The value of an address, if it has one.</summary>
    public bool TryGetValue(MeshAddress address, out T value)
    {
        if (_pages[address.Value >> PageBits] is { } page && page[address.Value & PageMask] is var entry && entry.Round == _round)
        {
            value = entry.Value;
            return true;
        }
        value = default!;
        return false;
    }

    /// <summary>True if an address has a value.</summary>
    public bool Contains(MeshAddress address) => _pages[address.Value >> PageBits] is { } page && page[address.Value & PageMask].Round == _round;

    /// <summary>Takes the value of an address away.</summary>
    /// <returns>True if it had one.</returns>
    public bool Remove(MeshAddress address)
    {
        if (!Contains(address))
            return false;
        _pages[address.Value >> PageBits]![address.Value & PageMask] = default;
        Count--;
        return true;
    }

    /// <summary>No address has a value any more.</summary>
    public void Clear()
    {
        Count = 0;
        if (++_round == int.MaxValue)
        {
            Array.Clear(_pages);
            _round = 1;
        }
    }

    private struct Place
    {
        /// <summary>The round in which the value was given; 0: never.</summary>
        public int Round;
        public T Value;
    }
}
