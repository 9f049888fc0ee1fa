namespace MeshTrace.Reports.Tables;

/// <summary>How tables are written.</summary>
public enum TableForm : byte
{
    /// <summary>Comma-separated values (RFC 4180), UTF-8.</summary>
    Csv,

    /// <summary>Apache Parquet.</summary>
    Parquet,
}
