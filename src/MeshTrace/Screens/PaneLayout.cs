namespace MeshTrace.Screens;

/// <summary>Which lines of the terminal belong to what. Every line belongs to exactly one part.</summary>
/// <param name="Columns">Width.</param>
/// <param name="Heading">First line of the heading, just below the two lines on top.</param>
/// <param name="Rows">First line of the rows.</param>
/// <param name="RowLines">How many lines of rows.</param>
/// <param name="Account">First line of the account, below a line that names it.</param>
/// <param name="AccountLines">How many lines of account.</param>
/// <param name="Last">The last line, for keys.</param>
internal readonly record struct PaneLayout(int Columns, int Heading, int Rows, int RowLines, int Account, int AccountLines, int Last)
{
    public const int LeastColumns = 80, LeastLines = 24;

    private const int OnTop = 2;
    private const int LeastRows = 3, LeastAccount = 4;

    /// <summary>Shares the height: rows that are not needed go to the account, and the other way round.</summary>
    public static PaneLayout Of(int columns, int lines, int headingLines, int rowCount, double rowsShare, int accountLength)
    {
        int shared = lines - OnTop - headingLines - 2;
        int wanted = Math.Clamp((int)Math.Round(shared * rowsShare), LeastRows, shared - LeastAccount);
        int rows = Math.Max(LeastRows, Math.Min(rowCount, wanted));
        if (shared - rows > accountLength)
            rows = Math.Clamp(Math.Max(rows, shared - Math.Max(accountLength, LeastAccount)), LeastRows, Math.Max(rows, Math.Min(rowCount, shared - LeastAccount)));
        int firstRow = OnTop + headingLines;
        return new PaneLayout(columns, OnTop, firstRow, rows, firstRow + rows + 1, shared - rows, lines - 1);
    }
}
