namespace MeshTrace.Analysis.Description;

/// <summary>A network description that cannot be read. Neither message nor members hold anything of a key.</summary>
public sealed class NetworkDescriptionException : Exception
{
    public NetworkDescriptionException(string file, string jsonPath, string says)
        : base($"{SafeText.Strip(file)}: {jsonPath}: {says}")
    {
        File = SafeText.Strip(file);
        JsonPath = jsonPath;
        Says = says;
    }

    public NetworkDescriptionException(string file, long line, long column, string says)
        : base($"{SafeText.Strip(file)}: line {line}, column {column}: {says}")
    {
        File = SafeText.Strip(file);
        JsonPath = "$";
        Line = line;
        Column = column;
        Says = says;
    }

    /// <summary>Name of the file, safe to show.</summary>
    public string File { get; }

    /// <summary>Where in the file, for example <c>$.nodes[2].deviceKey</c>; it holds only member names that the profile defines.</summary>
    public string JsonPath { get; }

    /// <summary>Line of malformed JSON, from 1; null where the JSON is well-formed.</summary>
    public long? Line { get; }

    /// <summary>Column of malformed JSON in characters, from 1; null where the JSON is well-formed.</summary>
    public long? Column { get; }

    /// <summary>What is wrong, without the place.</summary>
    public string Says { get; }
}
