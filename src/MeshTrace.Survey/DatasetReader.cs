using System.Globalization;
using DuckDB.NET.Data;
using MeshTrace.Analysis.Description;

namespace MeshTrace.Survey;

/// <summary>Reads a dataset with an embedded database.</summary>
internal sealed class DatasetReader : IDisposable
{
    private readonly DuckDBConnection _database = new("Data Source=:memory:");

    /// <summary>Opens a dataset.</summary>
    /// <exception cref="DatasetException">The folder is none.</exception>
    public DatasetReader(string folder)
    {
        if (!Directory.Exists(folder))
            throw new DatasetException($"'{SafeText.Strip(folder, 300)}' is no folder");
        foreach (string table in (string[])["capture", "press", "node", "finding"])
        {
            string place = Path.Combine(folder, table);
            if (!Directory.Exists(place) || !Directory.EnumerateFiles(place, "*.parquet", SearchOption.AllDirectories).Any())
                throw new DatasetException($"'{SafeText.Strip(folder, 300)}' holds no table '{table}'");
        }
        _database.Open();
        // Everything that is needed is in the library: nothing is to be fetched from anywhere.
        Execute("SET autoinstall_known_extensions = false");
        Execute("SET autoload_known_extensions = false");
        string escaped = EscapePattern(Path.GetFullPath(folder));
        // A capture whose row is missing is being written, or its writing was cut off.
        Execute($"CREATE VIEW capture AS SELECT * FROM {Files(escaped, "capture")}");
        foreach (string table in (string[])["press", "node", "finding"])
            Execute($"CREATE VIEW {table} AS SELECT t.*, c.site FROM {Files(escaped, table)} t JOIN capture c USING (capture)");
    }

    /// <summary>Counts and medians, a site or a capture at a time.</summary>
    public Comparison Compare(bool byCapture)
    {
        string name = byCapture ? "capture" : "site";
        var sites = new List<ComparedSite>();
        using (DuckDBDataReader row = Query($"""
            SELECT c.name, c.captures, c.damaged, c.nothing, c.frames, coalesce(p.presses, 0), coalesce(p.answered, 0), coalesce(p.some, 0), coalesce(p.lost, 0), coalesce(p.unknown, 0), p.latency, n.heard
            FROM (SELECT {name} AS name, count(*) AS captures, count(*) FILTER (result = 'damaged') AS damaged, count(*) FILTER (result = 'nothing-decoded') AS nothing, coalesce(sum(frames), 0)::BIGINT AS frames
                  FROM capture GROUP BY 1) c
            LEFT JOIN (SELECT {name} AS name, count(*) AS presses, count(*) FILTER (outcome = 'all') AS answered, count(*) FILTER (outcome = 'some') AS some, count(*) FILTER (outcome = 'none') AS lost,
                              count(*) FILTER (outcome = 'unknown') AS unknown, median(latencyMs) AS latency
                       FROM press GROUP BY 1) p USING (name)
            LEFT JOIN (SELECT {name} AS name, median(heardShare) AS heard FROM node GROUP BY 1) n USING (name)
            ORDER BY c.name
            """))
        {
            while (row.Read())
            {
                sites.Add(new ComparedSite
                {
                    Name = row.GetString(0), Captures = row.GetInt64(1), Damaged = row.GetInt64(2), NothingDecoded = row.GetInt64(3), Frames = row.GetInt64(4), Presses = row.GetInt64(5),
                    AnsweredByAll = row.GetInt64(6), AnsweredBySome = row.GetInt64(7), Lost = row.GetInt64(8), Unknown = row.GetInt64(9), LatencyMs = Real(row, 10), HeardShare = Real(row, 11),
                });
            }
        }
        AddFindings(name, sites.ToDictionary(site => site.Name));
        return new Comparison(byCapture, sites);
    }

    public void Dispose() => _database.Dispose();

    private void AddFindings(string name, Dictionary<string, ComparedSite> sites)
    {
        using DuckDBDataReader row = Query($"SELECT {name}, id, severity, count(*) AS times FROM finding GROUP BY ALL ORDER BY times DESC, id");
        while (row.Read())
            sites[row.GetString(0)].Findings.Add(new FindingCount(row.GetString(1), row.GetString(2), row.GetInt64(3)));
    }

    private static double? Real(DuckDBDataReader row, int column) => row.IsDBNull(column) ? null : Convert.ToDouble(row.GetValue(column), CultureInfo.InvariantCulture);

    private static string Files(string escaped, string table) =>
        $"read_parquet('{escaped}/{table}/capture=*/*.parquet', hive_partitioning = true, hive_types = {{'capture': VARCHAR}}, union_by_name = true)";

    /// <summary>A folder whose name has signs that mean something in a pattern, as a pattern within quotation marks that finds just it.</summary>
    private static string EscapePattern(string folder) =>
        folder.Replace("'", "''", StringComparison.Ordinal).Replace("[", "[[]", StringComparison.Ordinal).Replace("*", "[*]", StringComparison.Ordinal).Replace("?", "[?]", StringComparison.Ordinal);

    private void Execute(string statement)
    {
        using DuckDBCommand command = _database.CreateCommand();
        command.CommandText = statement;
        command.ExecuteNonQuery();
    }

    private DuckDBDataReader Query(string query)
    {
        using DuckDBCommand command = _database.CreateCommand();
        command.CommandText = query;
        return command.ExecuteReader();
    }
}
