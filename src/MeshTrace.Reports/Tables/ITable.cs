namespace MeshTrace.Reports.Tables;

/// <summary>A table that is being written, row by row. A cell that was not given is empty.</summary>
internal interface ITable : IDisposable
{
    /// <summary>A number as JSON writes it.</summary>
    void Number(int column, ReadOnlySpan<byte> digits);

    void Flag(int column, bool value);

    /// <summary>Text, a time or JSON, in UTF-8.</summary>
    void Text(int column, ReadOnlySpan<byte> utf8);

    void EndRow();

    /// <summary>Writes what is left. Without it the table is not whole.</summary>
    void Complete();
}
