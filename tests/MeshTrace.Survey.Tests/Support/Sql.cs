using System.Globalization;
using DuckDB.NET.Data;

namespace MeshTrace.Survey.Tests.Support;

/// <summary>Asks a database about files, as somebody does who knows nothing of this project.</summary>
internal static class Sql
{
    private static readonly Lazy<DuckDBConnection> Database = new(() =>
    {
        var database = new DuckDBConnection("Data Source=:memory:");
        database.Open();
        return database;
    });

    /// <summary>All rows; null for empty cells, numbers and flags in the invariant culture, times in microseconds since 1970.</summary>
    public static List<string?[]> Rows(string query, params string[] parameters)
    {
        lock (Database)
            return Ask(query, parameters);
    }

    private static List<string?[]> Ask(string query, string[] parameters)
    {
        using DuckDBCommand command = Database.Value.CreateCommand();
        command.CommandText = query;
        foreach (string parameter in parameters)
            command.Parameters.Add(new DuckDBParameter(parameter));
        using DuckDBDataReader reader = command.ExecuteReader();
        var rows = new List<string?[]>();
        while (reader.Read())
        {
            var row = new string?[reader.FieldCount];
            for (int i = 0; i < row.Length; i++)
                row[i] = reader.IsDBNull(i) ? null : Convert.ToString(reader.GetValue(i), CultureInfo.InvariantCulture);
            rows.Add(row);
        }
        return rows;
    }

    /// <summary>A query with one number for an answer.</summary>
    public static long Number(string query, params string[] parameters) => long.Parse(Assert.Single(Assert.Single(Rows(query, parameters)))!, CultureInfo.InvariantCulture);
}
