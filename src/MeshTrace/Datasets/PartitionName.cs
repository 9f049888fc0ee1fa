using System.Globalization;
using System.Text;

namespace MeshTrace.Datasets;

/// <summary>The name of a capture as the value of a partition: <c>capture=NAME</c>, where characters that mean something to paths or patterns are spelled <c>%2F</c>, as Hive does.</summary>
internal static class PartitionName
{
    /// <summary>Longest name of a folder or file on the usual file systems is 255 octets; this leaves room for what stands before and behind.</summary>
    private const int LongestName = 240;

    private const string Spelled = "\"#%'*/:=?\\{}[]^<>|";

    /// <summary>The name as part of a path.</summary>
    public static string Of(string capture)
    {
        var name = new StringBuilder(capture.Length);
        foreach (char c in capture)
        {
            if (c < ' ' || c == '\u007F' || Spelled.Contains(c, StringComparison.Ordinal))
                name.Append(CultureInfo.InvariantCulture, $"%{(int)c:X2}");
            else
                name.Append(c);
        }
        return name.ToString();
    }

    /// <summary>True if no folder can be named after it.</summary>
    public static bool IsTooLong(string capture) => Encoding.UTF8.GetByteCount(Of(capture)) > LongestName;
}
