namespace MeshTrace.Synthesis.Scenarios;

/// <summary>A scenario that cannot be composed: not there, no JSON, or a member that is missing, unknown or of a wrong value.</summary>
public sealed class ScenarioException : Exception
{
    public ScenarioException(string file, string jsonPath, string says, Exception? inner = null)
        : base(jsonPath.Length == 0 ? $"{file}: {says}" : $"{file}: {jsonPath}: {says}", inner) =>
        (File, JsonPath, Says) = (file, jsonPath, says);

    /// <summary>Name of the scenario file as it was given.</summary>
    public string File { get; }

    /// <summary>Where in the file, for example <c>$.nodes[2].unicast</c>; empty where the file as a whole is meant.</summary>
    public string JsonPath { get; }

    /// <summary>What is wrong, without final stop.</summary>
    public string Says { get; }
}
