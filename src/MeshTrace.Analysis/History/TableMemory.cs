using System.Runtime.CompilerServices;

namespace MeshTrace.Analysis.History;

/// <summary>
/// Room for the rows of the tables of one history. What a small capture needs comes in arrays of its own; more comes from slabs of 32 MiB, whose memory is
/// asked of the system large page by large page as it is handed out: that is a twentieth of the time of single pages on a virtual machine, and the processor
/// finds its way in large tables with fewer entries of its address cache. A slab is given back when nothing refers to any of its rows. May be used by several threads.
/// </summary>
internal sealed class TableMemory
{
    /// <summary>As much as the runtime keeps together for large arrays, less its own heads: most of the large pages in it are whole.</summary>
    private const int SlabOctets = (32 << 20) - (1 << 12);

    /// <summary>A capture with tables no larger than this does without slabs.</summary>
    private const int SmallOctets = 1 << 20;

    /// <summary>Lines of the processor's caches: no two stretches share one.</summary>
    private const int LineOctets = 64;

    private readonly Lock _gate = new();
    private byte[] _slab = [];
    private int _next, _end, _populated;

    /// <summary>Octets handed out so far.</summary>
    public long Taken { get; private set; }

    /// <summary>Octets of slabs that were not handed out: nothing was written there, so that there is no memory behind most of them.</summary>
    public long Untouched { get; private set; }

    /// <summary>A stretch for so many rows. What stands in them is not known.</summary>
    public Stretch<T> Take<T>(int rows) where T : unmanaged
    {
        int octets = rows * Unsafe.SizeOf<T>();
        lock (_gate)
        {
            Taken += octets;
            if (Taken <= SmallOctets || octets > SlabOctets / 4)
                return Stretch<T>.OfItsOwn(rows);
            octets = (octets + LineOctets - 1) & -LineOctets;
            if (_end - _next < octets)
                BeginSlab();
            int at = _next;
            _next += octets;
            Untouched -= octets;
            if (_next > _populated)
                Populate();
            return new Stretch<T>(_slab, at, rows);
        }
    }

    /// <summary>The whole large pages of a new slab; what lies before and behind them is never written.</summary>
    private unsafe void BeginSlab()
    {
        _slab = GC.AllocateUninitializedArray<byte>(SlabOctets);
        fixed (byte* first = _slab)
        {
            (nint from, nint to) = SystemMemory.WholeLargePages((nint)first, (nint)first + SlabOctets);
            SystemMemory.WantLargePages(from, to);
            _next = _populated = (int)(from - (nint)first);
            _end = (int)(to - (nint)first);
        }
        Untouched += SlabOctets;
    }

    private unsafe void Populate()
    {
        fixed (byte* first = _slab)
        {
            while (_populated < _next)
            {
                SystemMemory.Populate((nint)first + _populated, (nint)first + _populated + SystemMemory.LargePageOctets);
                _populated += SystemMemory.LargePageOctets;
            }
        }
    }
}
