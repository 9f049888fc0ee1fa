using System.Runtime.CompilerServices;
using System.Runtime.InteropServices;

namespace MeshTrace.Analysis.History;

/// <summary>Large arrays whose memory is asked of the system in one call (<see cref="SystemMemory"/>).</summary>
internal static class FreshArray
{
    /// <summary>Smaller arrays are not worth a call: they often lie in memory that was in use before.</summary>
    private const int WorthItOctets = 1 << 16;

    /// <summary>In smaller arrays a large page hardly fits, as they begin anywhere.</summary>
    private const int WorthLargePagesOctets = 2 * SystemMemory.LargePageOctets;

    /// <summary>An array of zeros.</summary>
    public static T[] Of<T>(int length) where T : struct
    {
        var array = new T[length];
        if ((long)length * Unsafe.SizeOf<T>() >= WorthItOctets)
            Populate(array);
        return array;
    }

    private static unsafe void Populate<T>(T[] array) where T : struct
    {
        fixed (byte* first = &Unsafe.As<T, byte>(ref MemoryMarshal.GetArrayDataReference(array)))
        {
            nint from = (nint)first, to = from + ((nint)array.Length * Unsafe.SizeOf<T>());
            if (to - from >= WorthLargePagesOctets)
                SystemMemory.WantLargePages(from, to);
            SystemMemory.Populate(from, to);
        }
    }
}
