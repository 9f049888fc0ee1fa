using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;
using System.Runtime.Intrinsics;
using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.History;

namespace MeshTrace.Analysis.Contents;

/// <summary>What kind of mesh AD structure a content is.</summary>
internal enum ContentKind : byte
{
    MeshMessage = 1,
    PbAdv,
    SecureBeacon,
    UnprovisionedBeacon,
    PrivateBeacon,

    /// <summary>Network PDUs of other bearers than advertising are contents of their own: at the same TTL they are other hearings. In the order of <see cref="Bearer"/>.</summary>
    GattFromClient,
    GattFromServer,
    TextNetworkPdu,

    /// <summary>A proxy configuration message, secured with the proxy nonce.</summary>
    ProxyConfiguration,

    /// <summary>The number of a provisioning PDU in <see cref="CaptureHistory.ConnectionProvisioning"/>.</summary>
    GattProvisioning,
}

internal static class ContentKinds
{
    public static bool IsNetworkPdu(this ContentKind kind) => kind == ContentKind.MeshMessage || kind is >= ContentKind.GattFromClient and <= ContentKind.TextNetworkPdu;

    /// <summary>Of a Network PDU.</summary>
    public static Bearer Bearer(this ContentKind kind) =>
        kind == ContentKind.MeshMessage ? Connections.Bearer.Advertising : (Bearer)(kind - ContentKind.GattFromClient + (int)Connections.Bearer.GattFromClient);
}

/// <summary>What became of a content that is a Network PDU.</summary>
internal enum ContentState : byte
{
    New,
    Opened,

    /// <summary>No key has its NID.</summary>
    NoKey,

    /// <summary>A key has its NID, but no NetMIC was right.</summary>
    Failed,

    /// <summary>Too short to be a Network PDU.</summary>
    Malformed,
}

/// <summary>One distinct mesh AD structure: 44 octets, however often it is heard.</summary>
[StructLayout(LayoutKind.Sequential)]
internal struct ContentRow
{
    public ContentKey Key;

    /// <summary>Row of its flood, beacon or provisioning link; -1 while unknown.</summary>
    public int Owner;

    /// <summary>The next content (another TTL) of the same flood, or -1.</summary>
    public int Next;
    public ContentState State;
    public byte Ttl;

    public readonly ContentKind Kind => Key.Kind;

    [System.Diagnostics.CodeAnalysis.UnscopedRef]
    public readonly ReadOnlySpan<byte> Octets => Key.Octets;
}

/// <summary>The octets, their number and kind, as 32 octets that compare in one step.</summary>
[InlineArray(Size)]
internal struct ContentKey
{
    public const int Size = 32;

    /// <summary>AD data of a legacy advertising PDU: 31 octets less length and type.</summary>
    public const int MostOctets = 29;

    private const int KindAt = 30, LengthAt = 31;
    private byte _first;

    public static ContentKey Of(ContentKind kind, ReadOnlySpan<byte> octets)
    {
        Write(out ContentKey key, kind, octets);
        return key;
    }

    /// <summary>Writes a key in place, by whole words: a processor that reads it again at once need not wait for the octets to arrive in its cache.</summary>
    public static void Write(out ContentKey key, ContentKind kind, ReadOnlySpan<byte> octets)
    {
        key = default;
        ref byte to = ref Unsafe.As<ContentKey, byte>(ref key);
        ref byte from = ref MemoryMarshal.GetReference(octets);
        int words = octets.Length / sizeof(ulong);
        if (octets.Length > MostOctets)
            throw new ArgumentOutOfRangeException(nameof(octets));
        for (int at = 0; at < words * sizeof(ulong); at += sizeof(ulong))
            Unsafe.WriteUnaligned(ref Unsafe.Add(ref to, at), Unsafe.ReadUnaligned<ulong>(ref Unsafe.Add(ref from, at)));
        int left = octets.Length % sizeof(ulong);
        ulong rest = 0;
        if (left > 0 && words > 0)
            rest = Unsafe.ReadUnaligned<ulong>(ref Unsafe.Add(ref from, octets.Length - sizeof(ulong))) >> (8 * (sizeof(ulong) - left));
        else
            for (int at = left - 1; at >= 0; at--)
                rest = (rest << 8) | Unsafe.Add(ref from, at);
        ulong tail = ((ulong)kind << (8 * (KindAt - 24))) | ((ulong)octets.Length << (8 * (LengthAt - 24)));
        if (words == 3)
            tail |= rest;
        else
            Unsafe.WriteUnaligned(ref Unsafe.Add(ref to, words * sizeof(ulong)), rest);
        Unsafe.WriteUnaligned(ref Unsafe.Add(ref to, 24), tail);
    }

    public readonly ContentKind Kind => (ContentKind)this[KindAt];

    [System.Diagnostics.CodeAnalysis.UnscopedRef]
    public readonly ReadOnlySpan<byte> Octets => ((ReadOnlySpan<byte>)this)[..this[LengthAt]];

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    public static bool Same(in ContentKey a, in ContentKey b) =>
        Vector256.LoadUnsafe(in a._first) == Vector256.LoadUnsafe(in b._first);

    /// <summary>A 64-bit hash: two rounds of 64 x 64 to 128 bits multiplication, folded. The constants are odd numbers with mixed bits.</summary>
    public readonly ulong Hash()
    {
        ref byte first = ref Unsafe.AsRef(in _first);
        ulong a = Unsafe.ReadUnaligned<ulong>(ref first) ^ 0x9E3779B97F4A7C15, b = Unsafe.ReadUnaligned<ulong>(ref Unsafe.Add(ref first, 8)) ^ 0xC2B2AE3D27D4EB4F;
        ulong c = Unsafe.ReadUnaligned<ulong>(ref Unsafe.Add(ref first, 16)) ^ 0x165667B19E3779F9, d = Unsafe.ReadUnaligned<ulong>(ref Unsafe.Add(ref first, 24)) ^ 0x27D4EB2F165667C5;
        ulong left = Fold(a, b), right = Fold(c, d);
        return Fold(left ^ 0x9FB21C651E98DF25, right ^ 0xD6E8FEB86659FD93);
    }

    [MethodImpl(MethodImplOptions.AggressiveInlining)]
    private static ulong Fold(ulong x, ulong y)
    {
        ulong high = Math.BigMul(x, y, out ulong low);
        return high ^ low;
    }
}

/// <summary>The distinct contents, found by their octets: what is repeated on three channels and several times is kept once.</summary>
internal sealed class ContentTable(TableMemory memory)
{
    private const int FirstSlots = 1 << 10;

    private readonly ChunkedTable<ContentRow> _rows = new(memory);

    /// <summary>High half: of the hash, which tells the place too; low half: row + 1; 0 = free.</summary>
    private ulong[] _slots = new ulong[FirstSlots];
    private int _used;

    /// <summary>Of no meaning: so that looks ahead are not left out as useless.</summary>
    private int _seen;

    /// <summary>Contents that <see cref="LookAhead"/> looks at: as many loads as a processor has under way at once, or some more.</summary>
    public const int MostAhead = 32;

    public int Count => _rows.Count;
    public long AllocatedOctets => (_rows.AllocatedRows * Unsafe.SizeOf<ContentRow>()) + (_slots.LongLength * sizeof(ulong));

    public ref ContentRow this[int row] => ref _rows[row];

    /// <summary>The row of these octets; a new one if they were not there.</summary>
    public int Intern(ContentKind kind, ReadOnlySpan<byte> octets)
    {
        ContentKey key = ContentKey.Of(kind, octets);
        return Intern(in key, key.Hash());
    }

    /// <summary>The row of a content whose hash is known already.</summary>
    public int Intern(in ContentKey key, ulong hash)
    {
        int slot = FindSlot(in key, hash);
        if (_slots[slot] != 0)
            return RowIn(_slots[slot]);
        int row = AddRow(in key);
        _slots[slot] = (hash & 0xFFFF_FFFF_0000_0000) | (uint)(row + 1);
        if (++_used > _slots.Length / 4 * 3)
            Grow();
        return row;
    }

    /// <summary>
    /// Looks at what <see cref="Intern(in ContentKey, ulong)"/> will look at for some contents: a large table lies outside of the processor's caches, and looks that do not
    /// depend on each other are waited for together.
    /// </summary>
    public void LookAhead(ReadOnlySpan<PreparedContent> contents)
    {
        Span<ulong> entries = stackalloc ulong[MostAhead];
        contents = contents[..Math.Min(contents.Length, MostAhead)];
        ulong[] slots = _slots;
        for (int i = 0; i < contents.Length; i++)
            entries[i] = slots[Place(contents[i].Hash, slots.Length)];
        if (Count == 0)
            return;
        int seen = 0;
        foreach (ulong entry in entries[..contents.Length])
            seen += _rows[Math.Max(RowIn(entry), 0)].Ttl;
        _seen = seen;
    }

    /// <summary>True if these octets were met as this kind.</summary>
    public bool Contains(ContentKind kind, ReadOnlySpan<byte> octets) => Find(kind, octets) >= 0;

    /// <summary>The row of these octets, the latest where they were heard again long after; -1 if they were never met as this kind.</summary>
    public int Find(ContentKind kind, ReadOnlySpan<byte> octets)
    {
        if (octets.Length > ContentKey.MostOctets)
            return -1;
        ContentKey key = ContentKey.Of(kind, octets);
        return _slots[FindSlot(in key, key.Hash())] is not 0 and var entry ? RowIn(entry) : -1;
    }

    public void Trim() => _rows.Trim();

    /// <summary>A second row of the same octets, from now on found in place of the first: they were heard again so late that they are another flood.</summary>
    public int Renew(int row)
    {
        ContentKey key = _rows[row].Key;
        ulong hash = key.Hash();
        int slot = FindSlot(in key, hash);
        int renewed = AddRow(in key);
        ref ContentRow old = ref _rows[row], fresh = ref _rows[renewed];
        fresh.State = old.State;
        fresh.Ttl = old.Ttl;
        _slots[slot] = (hash & 0xFFFF_FFFF_0000_0000) | (uint)(renewed + 1);
        return renewed;
    }

    private static int RowIn(ulong entry) => (int)(entry & 0x7FFF_FFFF) - 1;

    private int AddRow(in ContentKey key) => _rows.Add(new ContentRow { Key = key, Owner = -1, Next = -1 });

    private int FindSlot(in ContentKey key, ulong hash)
    {
        ulong[] slots = _slots;
        for (int slot = Place(hash, slots.Length); ; slot = slot + 1 == slots.Length ? 0 : slot + 1)
        {
            ulong entry = slots[slot];
            if (entry == 0)
                return slot;
            if ((entry ^ hash) >> 32 == 0 && ContentKey.Same(in _rows[RowIn(entry)].Key, in key))
                return slot;
        }
    }

    /// <summary>Where the search begins, by the high half of the hash: so no row has to be looked at when the table grows.</summary>
    private static int Place(ulong hash, int slots) => (int)(((hash >> 32) * (ulong)slots) >> 32);

    /// <summary>By half only: three quarters full at most and one half at least, which is about 13 octets a content.</summary>
    private void Grow()
    {
        ulong[] old = _slots, slots = FreshArray.Of<ulong>(old.Length + (old.Length / 2));
        foreach (ulong entry in old)
        {
            if (entry == 0)
                continue;
            int slot = Place(entry, slots.Length);
            while (slots[slot] != 0)
                slot = slot + 1 == slots.Length ? 0 : slot + 1;
            slots[slot] = entry;
        }
        _slots = slots;
    }
}
