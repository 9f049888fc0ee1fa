using System.Text;

namespace MeshTrace.Reports.Tests.Support;

/// <summary>Reads comma-separated values as RFC 4180 §2 says, strictly: null for an empty cell without quotes.</summary>
internal static class CsvReading
{
    public static List<List<string?>> Read(ReadOnlySpan<byte> file)
    {
        string text = new UTF8Encoding(false, throwOnInvalidBytes: true).GetString(file);
        var rows = new List<List<string?>>();
        var row = new List<string?>();
        for (int at = 0; at < text.Length;)
        {
            row.Add(ReadCell(text, ref at));
            if (text[at] == ',')
            {
                at++;
                continue;
            }
            Assert.Equal("\r\n", text.Substring(at, 2));
            at += 2;
            rows.Add(row);
            row = [];
        }
        Assert.Empty(row);
        return rows;
    }

    private static string? ReadCell(string text, ref int at)
    {
        if (text[at] != '"')
        {
            int end = text.AsSpan(at).IndexOfAny(",\r\n\"") + at;
            string plain = text[at..end];
            at = end;
            return plain.Length == 0 ? null : plain;
        }
        var cell = new StringBuilder();
        for (at++; ; at++)
        {
            if (text[at] != '"')
                cell.Append(text[at]);
            else if (text[at + 1] == '"')
                cell.Append(text[++at]);
            else
            {
                at++;
                return cell.ToString();
            }
        }
    }
}
