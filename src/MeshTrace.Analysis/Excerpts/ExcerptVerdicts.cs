using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Excerpts;

/// <summary>Compares an excerpt, analysed by itself, with the capture it was taken from.</summary>
public static class ExcerptVerdicts
{
    /// <summary>Presses that the excerpt tells otherwise: not at all, or with another outcome, other elements that should act, or other answers.</summary>
    /// <param name="whole">The capture.</param>
    /// <param name="presses">Rows of its presses that count.</param>
    /// <param name="excerpt">The excerpt.</param>
    /// <param name="addressOf">What an address of the capture is in the excerpt; null where it is the same.</param>
    /// <param name="shiftNs">What was added to the times of the excerpt.</param>
    public static IReadOnlyList<int> Differing(CaptureHistory whole, IReadOnlyList<int> presses, CaptureHistory excerpt, Func<MeshAddress, MeshAddress>? addressOf = null, long shiftNs = 0)
    {
        ArgumentNullException.ThrowIfNull(whole);
        ArgumentNullException.ThrowIfNull(presses);
        ArgumentNullException.ThrowIfNull(excerpt);
        Func<MeshAddress, MeshAddress> map = addressOf ?? (address => address);
        var found = new Dictionary<(ushort Src, ushort Dst, byte Tid, uint Opcode), List<Press>>();
        foreach (Press press in excerpt.Presses)
        {
            var key = (press.Src.Value, press.Dst.Value, press.Tid, press.Opcode.Value);
            if (!found.TryGetValue(key, out List<Press>? same))
                found.Add(key, same = []);
            same.Add(press);
        }
        return [.. presses.Where(row => whole.Presses[row] is var press
            && !(found.TryGetValue((map(press.Src).Value, map(press.Dst).Value, press.Tid, press.Opcode.Value), out List<Press>? candidates)
                && candidates.Exists(candidate => IsSame(press, candidate, map, shiftNs))))];
    }

    private static bool IsSame(Press press, Press other, Func<MeshAddress, MeshAddress> map, long shiftNs) =>
        press.TimeNs + (press.TimeNs == long.MinValue ? 0 : shiftNs) == other.TimeNs && press.Outcome == other.Outcome
        && (press.Expected is null) == (other.Expected is null) && (press.Expected ?? []).Select(map).ToHashSet().SetEquals(other.Expected ?? [])
        && press.Answers.Select(answer => map(answer.Element)).ToHashSet().SetEquals(other.Answers.Select(answer => answer.Element));
}
