namespace MeshTrace.Reports.Tables;

/// <summary>One column of a table: the name of the record's member, and what its cells hold. Every cell may be empty.</summary>
/// <param name="Name">As in the records.</param>
/// <param name="Type">What it holds.</param>
public sealed record Column(string Name, ColumnType Type);
