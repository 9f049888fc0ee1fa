namespace MeshTrace.Survey;

/// <summary>The folder given is no dataset, or one without captures. The message is safe to show.</summary>
internal sealed class DatasetException(string message) : Exception(message);
