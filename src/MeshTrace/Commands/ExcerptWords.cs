using System.Globalization;
using MeshTrace.Analysis.Excerpts;

namespace MeshTrace.Commands;

/// <summary>What an excerpt holds, and why, in words.</summary>
internal static class ExcerptWords
{
    private static readonly (ExcerptReason Reason, string Words)[] Reasons =
    [
        (ExcerptReason.Time, "in the time itself, or around the press"),
        (ExcerptReason.Subject, "of the press or node asked for"),
        (ExcerptReason.Transfer, "segments and acknowledgments that belong to them"),
        (ExcerptReason.Neighbour, "sequence numbers before and after, which tell what was missed"),
        (ExcerptReason.State, "states told before"),
        (ExcerptReason.Beacon, "beacons that tell the IV index"),
        (ExcerptReason.Friendship, "friendship requests and offers"),
        (ExcerptReason.Key, "handing out keys that are needed"),
        (ExcerptReason.Configuration, "configuration of the nodes that take part"),
        (ExcerptReason.Connection, "connections from their beginning"),
    ];

    /// <summary>Several lines, without the last line end.</summary>
    public static string Summary(ExcerptMaking making, string file)
    {
        ExcerptSelection taken = making.Selection;
        var lines = new List<string> { string.Create(CultureInfo.InvariantCulture, $"{taken.Count - making.Unwritable - making.LeftOut} of {taken.Of} frames are in {file}:") };
        foreach ((ExcerptReason reason, string words) in Reasons)
            if (taken.CountOf(reason) is > 0 and var count)
                lines.Add(string.Create(CultureInfo.InvariantCulture, $"  {count,8}  {words}"));
        if (taken.Presses.Count - making.Differing.Count is > 0 and var same)
        {
            lines.Add(string.Create(CultureInfo.InvariantCulture, $"Read by itself it tells the same of {(same == 1 ? "the press" : $"{same} presses")} as the whole capture")
                + (making.Widened == 0 ? "." : ", for which it was taken wider."));
        }
        return string.Join('\n', lines);
    }
}
