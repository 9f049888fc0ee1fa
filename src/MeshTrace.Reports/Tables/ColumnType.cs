namespace MeshTrace.Reports.Tables;

/// <summary>What the cells of a column hold.</summary>
public enum ColumnType : byte
{
    /// <summary>Words, addresses, octets in hexadecimal: the text that stands in the records.</summary>
    Text,

    /// <summary>Whole numbers of 64 bits.</summary>
    Integer,

    /// <summary>Numbers with a fraction.</summary>
    Real,

    /// <summary>True or false.</summary>
    Flag,

    /// <summary>A time in UTC.</summary>
    Time,

    /// <summary>A list or an object of the records, as JSON text.</summary>
    Json,
}
