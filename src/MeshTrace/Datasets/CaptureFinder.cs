using System.IO.Enumeration;

namespace MeshTrace.Datasets;

/// <summary>
/// Finds the captures of a folder and of the folders in it. A capture is what has the ending of one, so that an empty or broken one is not passed over
/// in silence, or what begins like one.
/// </summary>
internal static class CaptureFinder
{
    private const string Packed = ".gz", DescriptionEnding = ".network.json", SharedDescription = "network.json";
    private const int MagicLength = 8;
    private static readonly string[] Endings = [".pcap", ".pcapng", ".btsnoop", ".snoop", ".cap"];

    /// <summary>All captures, in the order of their names. Links to folders are not followed; nor is anything looked for in <paramref name="dataset"/>.</summary>
    /// <exception cref="IOException">The folder cannot be read.</exception>
    /// <exception cref="UnauthorizedAccessException">It may not be read.</exception>
    public static List<FoundCapture> Find(string folder, string? dataset)
    {
        string? left = dataset is null ? null : Path.GetFullPath(dataset);
        var files = new FileSystemEnumerable<string>(folder, (ref FileSystemEntry entry) => entry.ToFullPath(),
            new EnumerationOptions { RecurseSubdirectories = true, AttributesToSkip = FileAttributes.Hidden | FileAttributes.System })
        {
            ShouldIncludePredicate = (ref FileSystemEntry entry) => !entry.IsDirectory,
            ShouldRecursePredicate = (ref FileSystemEntry entry) => (entry.Attributes & FileAttributes.ReparsePoint) == 0 && entry.ToFullPath() != left,
        };
        return [.. files.Where(IsCapture).Select(file => Describe(folder, file)).OrderBy(capture => capture.Name, StringComparer.Ordinal)];
    }

    /// <summary>A file's name without the endings that say how it is packed and written.</summary>
    public static string WithoutEndings(string name)
    {
        if (name.EndsWith(Packed, StringComparison.OrdinalIgnoreCase))
            name = name[..^Packed.Length];
        return Path.ChangeExtension(name, null) is { Length: > 0 } bare ? bare : name;
    }

    private static FoundCapture Describe(string folder, string file)
    {
        string name = Path.GetRelativePath(folder, file).Replace(Path.DirectorySeparatorChar, '/');
        string place = Path.GetDirectoryName(file)!;
        string[] descriptions = [Path.Combine(place, WithoutEndings(Path.GetFileName(file)) + DescriptionEnding), Path.Combine(place, SharedDescription)];
        return new FoundCapture(name, file, descriptions.FirstOrDefault(File.Exists));
    }

    private static bool IsCapture(string file)
    {
        string name = file.EndsWith(Packed, StringComparison.OrdinalIgnoreCase) ? file[..^Packed.Length] : file;
        return Endings.Any(ending => name.EndsWith(ending, StringComparison.OrdinalIgnoreCase)) || BeginsLikeOne(file);
    }

    /// <summary>The first octets of pcap (either byte order, micro- or nanoseconds), pcapng (a section header block) and BTSnoop files.</summary>
    private static bool BeginsLikeOne(string file)
    {
        Span<byte> begin = stackalloc byte[MagicLength];
        try
        {
            // Pipes and devices would keep the survey waiting.
            if ((File.GetAttributes(file) & FileAttributes.Device) != 0 || new FileInfo(file).Length < MagicLength)
                return false;
            using FileStream stream = File.OpenRead(file);
            if (stream.ReadAtLeast(begin, MagicLength, throwOnEndOfStream: false) < MagicLength)
                return false;
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
            return false;       // without the ending of a capture, nothing says that it is one
        }
        return begin.SequenceEqual("btsnoop\0"u8) || begin[..4] is [0xD4, 0xC3, 0xB2, 0xA1] or [0xA1, 0xB2, 0xC3, 0xD4] or [0x4D, 0x3C, 0xB2, 0xA1] or [0xA1, 0xB2, 0x3C, 0x4D] or [0x0A, 0x0D, 0x0D, 0x0A];
    }
}
