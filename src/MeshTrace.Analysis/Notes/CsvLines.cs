using System.Text;

namespace MeshTrace.Analysis.Notes;

/// <summary>Records of comma-separated text (RFC 4180): fields may stand in quotes, with commas, line ends and doubled quotes inside.</summary>
internal static class CsvLines
{
    /// <summary>Line of each record and its fields; empty lines are left out.</summary>
    /// <exception cref="FieldNotesException">A quote is not closed, or text follows it.</exception>
    public static IEnumerable<(int Line, List<string> Fields)> Read(string text, string file)
    {
        int at = 0, line = 1;
        while (at < text.Length)
        {
            int firstLine = line;
            var fields = new List<string>();
            bool more = true;
            while (more)
            {
                fields.Add(ReadField(text, file, ref at, ref line));
                more = at < text.Length && text[at] == ',';
                if (more)
                    at++;
            }
            if (at < text.Length && text[at] == '\r')
                at++;
            if (at < text.Length && text[at] == '\n')
                at++;
            line++;
            if (fields.Count > 1 || fields[0].Length > 0)
                yield return (firstLine, fields);
        }
    }

    private static string ReadField(string text, string file, ref int at, ref int line)
    {
        int start = at;
        while (at < text.Length && text[at] is ' ' or '\t')
            at++;
        if (at >= text.Length || text[at] != '"')
        {
            while (at < text.Length && text[at] is not (',' or '\r' or '\n'))
                at++;
            return text[start..at].Trim();
        }
        int opened = line;
        var field = new StringBuilder();
        for (at++; at < text.Length; at++)
        {
            if (text[at] == '\n')
                line++;
            if (text[at] != '"')
                field.Append(text[at]);
            else if (at + 1 < text.Length && text[at + 1] == '"')
                field.Append(text[at++]);
            else
                break;
        }
        if (at >= text.Length)
            throw new FieldNotesException(file, opened, "a quote is opened and not closed");
        at++;
        while (at < text.Length && text[at] is ' ' or '\t')
            at++;
        if (at < text.Length && text[at] is not (',' or '\r' or '\n'))
            throw new FieldNotesException(file, line, "text follows a closing quote; a quote inside a quoted field is written twice");
        return field.ToString().Trim();
    }
}
