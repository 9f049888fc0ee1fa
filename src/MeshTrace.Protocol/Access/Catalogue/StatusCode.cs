namespace MeshTrace.Protocol.Access.Catalogue;

/// <summary>A status code: a row of status-codes.tsv.</summary>
/// <param name="Group">The set of codes that it belongs to; several groups of messages may share one.</param>
/// <param name="Code">The value of the Status field.</param>
/// <param name="Name">The standard's name.</param>
/// <param name="Source">Document and section.</param>
public sealed record StatusCode(string Group, byte Code, string Name, string Source);
