using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;

namespace MeshTrace.Analysis.History;

/// <summary>
/// Large arrays whose memory is asked of the system in one call instead of page by page when each is first written: a page fault costs a fraction of a
/// microsecond on the bare machine, but ten or more on a virtual one, and a table of a million frames has ten thousand pages.
/// </summary>
internal static class FreshArray
{
    /// <summary>Smaller arrays are not worth a call: they often lie in memory that was in use before.</summary>
    private const int WorthItOctets = 1 << 16;

    /// <summary>MADV_POPULATE_WRITE of madvise(2), Linux 5.14 and later: the pages are there as if each had been written to, contents unchanged.</summary>
    private const int PopulateWrite = 23;

    /// <summary>False where the C library of the system is not found by its usual name: then nothing more is asked.</summary>
    private static bool s_canAsk = OperatingSystem.IsLinux();

    /// <summary>An array of zeros.</summary>
    public static T[] Of<T>(int length) where T : struct
    {
        var array = new T[length];
        if ((long)length * Unsafe.SizeOf<T>() >= WorthItOctets && s_canAsk)
            Populate(array);
        return array;
    }

    /// <summary>Whole pages inside the array only. Where the system refuses or does not know the call, the pages come one by one, as without it.</summary>
    private static unsafe void Populate<T>(T[] array) where T : struct
    {
        nint page = Environment.SystemPageSize;
        fixed (byte* first = &Unsafe.As<T, byte>(ref MemoryMarshal.GetArrayDataReference(array)))
        {
            nint from = ((nint)first + page - 1) & -page, to = ((nint)first + ((nint)array.Length * Unsafe.SizeOf<T>())) & -page;
            if (to <= from)
                return;
            try
            {
                _ = Advise(from, (nuint)(to - from), PopulateWrite);
            }
            catch (Exception missing) when (missing is DllNotFoundException or EntryPointNotFoundException)
            {
                s_canAsk = false;
            }
        }
    }

    [DllImport("libc", EntryPoint = "madvise")]
    [DefaultDllImportSearchPaths(DllImportSearchPath.SafeDirectories)]
    private static extern int Advise(nint address, nuint length, int advice);
}
