namespace MeshTrace.Commands;

/// <summary>Finds out before the analysis, which may take its time, whether a result can go to a file.</summary>
internal static class OutputFile
{
    /// <summary>What stands there already stays, unless it is asked for, and inputs stay always.</summary>
    /// <exception cref="UserErrorException">The file is an input, a folder, or stands there already.</exception>
    public static void Check(string to, IReadOnlyList<string> captures, IReadOnlyList<string> others, bool overwrite, string example, string option = "--to")
    {
        if (to.Length == 0)
            throw new UserErrorException(ExitCode.Usage, $"{option} names no file", $"Name the file to write, such as {example}.");
        InputFile.RefuseOverwriting(to, captures, "one of the captures", option);
        InputFile.RefuseOverwriting(to, others, "one of the files to read", option);
        if (Directory.Exists(to))
            throw new UserErrorException(ExitCode.Unwritable, $"{InputFile.Shown(to)} is a folder", $"Name the file in it, such as {example}.");
        if (!overwrite && Path.Exists(to))
            throw new UserErrorException(ExitCode.Unwritable, $"{InputFile.Shown(to)} stands there already", "Name another file, or let it be replaced with --overwrite.");
    }
}
