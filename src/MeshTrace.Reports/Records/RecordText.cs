using System.Text;
using MeshTrace.Analysis.History;

namespace MeshTrace.Reports.Records;

/// <summary>One record alone, in the form that docs/records.md describes.</summary>
public static class RecordText
{
    /// <summary>The record as one line of JSON without the line's end.</summary>
    /// <param name="history">What the capture told.</param>
    /// <param name="kind">Any kind but <see cref="RecordKind.Key"/>.</param>
    /// <param name="row">Its row, from 0.</param>
    /// <param name="settings">Vendor messages.</param>
    public static string Of(CaptureHistory history, RecordKind kind, int row, RecordsSettings settings)
    {
        if (kind == RecordKind.Key)
            throw new ArgumentException("keys are not shown one by one", nameof(kind));
        using var octets = new MemoryStream();
        new RecordsWriter(history, settings).WriteOne(octets, kind, row);
        return Encoding.UTF8.GetString(octets.GetBuffer(), 0, (int)octets.Length).TrimEnd('\n');
    }
}
