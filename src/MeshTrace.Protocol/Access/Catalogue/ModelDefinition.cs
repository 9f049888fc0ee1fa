namespace MeshTrace.Protocol.Access.Catalogue;

/// <summary>A SIG model: a row of models.tsv.</summary>
/// <param name="Number">Model identifier.</param>
/// <param name="Name">The standard's name.</param>
/// <param name="Group">The family of messages that it speaks, as <see cref="MessageDefinition.Group"/>.</param>
/// <param name="IsClient">It sends requests; else it is a server, which holds states.</param>
/// <param name="Source">Document and section.</param>
public sealed record ModelDefinition(ushort Number, string Name, string Group, bool IsClient, string Source)
{
    public bool IsServer => !IsClient;
}
