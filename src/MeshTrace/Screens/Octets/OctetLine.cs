namespace MeshTrace.Screens.Octets;

/// <summary>One line of a frame: some octets, the layer they belong to, and what they say.</summary>
/// <param name="Layer">Name of the layer.</param>
/// <param name="At">Where the octets begin in the frame; null where they are not in it as they stand here: decrypted, or brought by other segments.</param>
/// <param name="Octets">The octets; empty for a part of a field.</param>
/// <param name="Field">The standard's name.</param>
/// <param name="Reads">What the octets say.</param>
internal sealed record OctetLine(string Layer, int? At, byte[] Octets, string Field, string Reads);

/// <summary>Collects lines, and keeps long fields to a few octets a line.</summary>
internal sealed class OctetLines
{
    public const int OctetsALine = 6;

    private readonly List<OctetLine> _lines = [];

    public IReadOnlyList<OctetLine> All => _lines;

    /// <summary>Octets as they stand in the frame.</summary>
    public void Add(string layer, int at, ReadOnlySpan<byte> octets, string field, string reads = "") => AddPieces(layer, at, octets, field, reads);

    /// <summary>Octets that are not in the frame as they stand here.</summary>
    public void AddClear(string layer, ReadOnlySpan<byte> octets, string field, string reads = "") => AddPieces(layer, null, octets, field, reads);

    private void AddPieces(string layer, int? at, ReadOnlySpan<byte> octets, string field, string reads)
    {
        int first = Math.Min(OctetsALine, octets.Length);
        _lines.Add(new OctetLine(layer, at, octets[..first].ToArray(), field, reads));
        for (int from = first; from < octets.Length; from += OctetsALine)
            _lines.Add(new OctetLine(layer, at + from, octets[from..Math.Min(octets.Length, from + OctetsALine)].ToArray(), "", ""));
    }
}
