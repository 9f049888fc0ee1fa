using System.Globalization;
using MeshTrace.Analysis.Description;

namespace MeshTrace.Analysis.Keys;

/// <summary>Gathers what is given by hand from the command line, from files named there with <c>@FILE</c>, and from the environment.</summary>
/// <remarks>
/// A file has one value a line; what follows <c>#</c> is a comment. An environment variable has its values separated by commas and may
/// name a file too. What is typed stands before what the environment gives.
/// </remarks>
public sealed class KeyArgumentsReader
{
    /// <summary>Longest file of values, in characters: some ten thousand keys with comments.</summary>
    public const int LongestFile = 1024 * 1024;

    private readonly Func<string, string?> _environment;
    private readonly Func<string, string> _readFile;
    private readonly KeyArgumentValues _values = new();

    /// <param name="environment">Gives the value of an environment variable, or null.</param>
    /// <param name="readFile">Gives the text of a file; may throw <see cref="IOException"/> or <see cref="UnauthorizedAccessException"/>.</param>
    public KeyArgumentsReader(Func<string, string?> environment, Func<string, string> readFile)
    {
        _environment = environment;
        _readFile = readFile;
    }

    /// <summary>Reads everything at once.</summary>
    /// <param name="typed">Options and values in the order typed.</param>
    /// <param name="environment">As in the constructor.</param>
    /// <param name="readFile">As in the constructor.</param>
    /// <exception cref="KeyArgumentException">A value or file cannot be read.</exception>
    public static KeyArguments Read(
        IEnumerable<(KeyArgumentOption Option, string Text)> typed, Func<string, string?> environment, Func<string, string> readFile)
    {
        var reader = new KeyArgumentsReader(environment, readFile);
        foreach ((KeyArgumentOption option, string text) in typed)
            reader.Add(option, text);
        return reader.Finish();
    }

    /// <summary>Takes one value of the command line: the value itself, or <c>@FILE</c>.</summary>
    /// <exception cref="KeyArgumentException">It cannot be read.</exception>
    public void Add(KeyArgumentOption option, string text) => AddValueOrFile(option, text, option.OptionName());

    /// <summary>Takes the environment and gives everything.</summary>
    /// <exception cref="KeyArgumentException">A variable cannot be read.</exception>
    public KeyArguments Finish()
    {
        foreach (KeyArgumentOption option in KeyArgumentOptions.All)
        {
            if (_environment(option.VariableName()) is { } variable && !string.IsNullOrWhiteSpace(variable))
                AddVariable(option, variable);
        }
        return _values.ToArguments();
    }

    private void AddVariable(KeyArgumentOption option, string variable)
    {
        string[] values = variable.Split(',');
        for (int i = 0; i < values.Length; i++)
        {
            string place = values.Length == 1
                ? option.VariableName()
                : string.Create(CultureInfo.InvariantCulture, $"{option.VariableName()}, value {i + 1}");
            if (!string.IsNullOrWhiteSpace(values[i]))   // a comma too many does no harm
                AddValueOrFile(option, values[i], place);
        }
    }

    private void AddValueOrFile(KeyArgumentOption option, string text, string place)
    {
        string value = text.Trim();
        if (value.StartsWith('@'))
            AddFile(option, value[1..], place);
        else
            _values.Add(option, value, place);
    }

    private void AddFile(KeyArgumentOption option, string file, string place)
    {
        if (file.Length == 0)
            throw new KeyArgumentException(place, "a file name is needed after @");
        string shown = FileToShow(file);
        string content = ReadFile(file, shown, place);
        if (content.Length > LongestFile)
        {
            throw new KeyArgumentException(place, string.Create(CultureInfo.InvariantCulture,
                $"{shown} has {content.Length} characters, at most {LongestFile} are read"));
        }
        int line = 0;
        int found = 0;
        foreach (ReadOnlySpan<char> raw in content.AsSpan().EnumerateLines())
        {
            line++;
            int comment = raw.IndexOf('#');
            ReadOnlySpan<char> value = (comment < 0 ? raw : raw[..comment]).Trim(" \t\uFEFF");
            if (value.IsEmpty)
                continue;
            string linePlace = string.Create(CultureInfo.InvariantCulture, $"{place}, line {line} of {shown}");
            if (value[0] == '@')
                throw new KeyArgumentException(linePlace, "a file of values cannot name another file");
            _values.Add(option, value.ToString(), linePlace);
            found++;
        }
        if (found == 0)
            throw new KeyArgumentException(place, $"{shown} holds no value");
    }

    private string ReadFile(string file, string shown, string place)
    {
        try
        {
            return _readFile(file);
        }
        catch (Exception problem) when (problem is FileNotFoundException or DirectoryNotFoundException)
        {
            throw new KeyArgumentException(place, $"{shown} does not exist");
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or ArgumentException or NotSupportedException)
        {
            throw new KeyArgumentException(place, $"{shown} cannot be read");
        }
    }

    /// <summary>A key typed behind an @ by mistake looks like a file name; a name with so long a run of hex digits is not repeated.</summary>
    private static string FileToShow(string file)
    {
        const int LongRun = 12;
        int run = 0;
        foreach (char c in file)
        {
            if (char.IsAsciiHexDigit(c))
                run++;
            else if (c is not (' ' or ':' or '-'))
                run = 0;
            if (run == LongRun)
                return "the file";
        }
        return SafeText.Strip(file);
    }
}
