using System.Text;
using MeshTrace.Analysis.Description;

namespace MeshTrace.Commands;

/// <summary>Reads a small file whole, but never more of it than it should have.</summary>
internal static class InputFile
{
    /// <summary>All octets of a file.</summary>
    /// <exception cref="UserErrorException">It cannot be opened or read, or is longer than <paramref name="longest"/>.</exception>
    public static byte[] Read(string file, int longest, string what)
    {
        try
        {
            byte[] octets = ReadOctets(file, longest + 1);
            return octets.Length <= longest
                ? octets
                : throw new UserErrorException(ExitCode.Unreadable, $"the {what} {Shown(file)} is longer than {longest} octets", "Check that this is the right file.");
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            throw CannotRead(file, what, problem);
        }
    }

    /// <summary>The text of a file, at most so many characters of it.</summary>
    /// <exception cref="IOException">It cannot be read.</exception>
    /// <exception cref="UnauthorizedAccessException">It may not be read.</exception>
    public static string ReadText(string file, int longest)
    {
        string text = Encoding.UTF8.GetString(ReadOctets(file, longest));
        return text;
    }

    public static UserErrorException CannotRead(string file, string what, Exception problem) => problem switch
    {
        FileNotFoundException or DirectoryNotFoundException =>
            new(ExitCode.Unreadable, $"the {what} {Shown(file)} does not exist", "Check the name and the folder.", problem),
        UnauthorizedAccessException when Directory.Exists(file) =>
            new(ExitCode.Unreadable, $"the {what} {Shown(file)} is a folder", "Name the file in it.", problem),
        UnauthorizedAccessException =>
            new(ExitCode.Unreadable, $"the {what} {Shown(file)} may not be read", "Check its permissions.", problem),
        _ => new(ExitCode.Unreadable, $"the {what} {Shown(file)} cannot be read: {SafeText.Strip(problem.Message.TrimEnd('.'), 200)}", "Check the file and the disk it is on.", problem),
    };

    /// <summary>Why a file cannot be written.</summary>
    public static UserErrorException CannotWrite(string file, Exception problem) => new(ExitCode.Unwritable,
        $"{Shown(file)} cannot be written: {SafeText.Strip(problem.Message.TrimEnd('.'), 200)}", "Check the folder, its permissions and the space on the disk.", problem);

    /// <summary>A file's name between quotation marks, safe to show.</summary>
    public static string Shown(string file) => $"'{SafeText.Strip(file, 300)}'";

    /// <summary>Writing over a capture would destroy it.</summary>
    /// <exception cref="UserErrorException">The place to write to is one of the captures.</exception>
    public static void RefuseOverwriting(string to, IReadOnlyList<string> captures) => RefuseOverwriting(to, captures, "one of the captures");

    /// <summary>Likewise for other files that are read.</summary>
    /// <exception cref="UserErrorException">The place to write to is one of them.</exception>
    public static void RefuseOverwriting(string to, IReadOnlyList<string> files, string what, string option = "--to")
    {
        string target = Real(to);
        if (files.Any(file => file != "-" && Real(file) == target))
        {
            throw new UserErrorException(ExitCode.Usage, $"{option} names {Shown(to)}, which is {what}",
                "Choose another file: what it holds would be lost.");
        }
    }

    private static string Real(string path)
    {
        try
        {
            return Path.GetFullPath(File.ResolveLinkTarget(path, returnFinalTarget: true)?.FullName ?? path);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException)
        {
            return path;    // it will be refused with a better message when it is opened
        }
    }

    private static byte[] ReadOctets(string file, int most)
    {
        using FileStream stream = File.OpenRead(file);
        using var octets = new MemoryStream();
        var buffer = new byte[1 << 16];
        while (octets.Length < most)
        {
            int read = stream.Read(buffer, 0, (int)Math.Min(buffer.Length, most - octets.Length));
            if (read == 0)
                break;
            octets.Write(buffer, 0, read);
        }
        return octets.ToArray();
    }
}
