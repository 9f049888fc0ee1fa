using System.Runtime.InteropServices;

namespace MeshTrace.Analysis.History;

/// <summary>
/// Asks the system for the memory behind addresses in one call, and in large pages, instead of page by page when each is first written: a page fault costs
/// a fraction of a microsecond on the bare machine, but ten or more on a virtual one, and tables of a million frames have ten thousand pages. Only advice:
/// where the system does not know it or refuses, pages come one by one as without it, and nothing else is different.
/// </summary>
internal static class SystemMemory
{
    /// <summary>A large page of the x86-64 and AArch64 processors, in octets, as Linux hands them out where they are asked for ("transparent huge pages").</summary>
    public const int LargePageOctets = 1 << 21;

    /// <summary>MADV_HUGEPAGE of madvise(2): whole large pages within the addresses may be handed out as such.</summary>
    private const int LargePages = 14;

    /// <summary>MADV_POPULATE_WRITE of madvise(2), Linux 5.14 and later: the pages are there as if each had been written to, contents unchanged.</summary>
    private const int PopulateWrite = 23;

    /// <summary>False where the C library of the system is not found by its usual name: then nothing more is asked.</summary>
    private static bool s_canAsk = OperatingSystem.IsLinux();

    /// <summary>Wants large pages for the whole ones within the addresses, once their memory is asked for or written. Nothing is there yet afterwards.</summary>
    public static void WantLargePages(nint from, nint to)
    {
        (nint first, nint last) = WholeLargePages(from, to);
        if (first < last)
            Advise(first, last, LargePages);
    }

    /// <summary>The whole large pages between two addresses, from the first of them to the end of the last; empty where none fits.</summary>
    public static (nint From, nint To) WholeLargePages(nint from, nint to) => ((from + LargePageOctets - 1) & -LargePageOctets, to & -LargePageOctets);

    /// <summary>Has the memory of all whole pages between two addresses now.</summary>
    public static void Populate(nint from, nint to)
    {
        nint page = Environment.SystemPageSize;
        (from, to) = ((from + page - 1) & -page, to & -page);
        if (from < to)
            Advise(from, to, PopulateWrite);
    }

    private static void Advise(nint from, nint to, int advice)
    {
        if (!s_canAsk)
            return;
        try
        {
            _ = Advise(from, (nuint)(to - from), advice);
        }
        catch (Exception missing) when (missing is DllNotFoundException or EntryPointNotFoundException)
        {
            s_canAsk = false;
        }
    }

    [DllImport("libc", EntryPoint = "madvise")]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    private static extern int Advise(nint address, nuint length, int advice);
}
