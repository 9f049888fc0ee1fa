using System.Diagnostics.CodeAnalysis;
using MeshTrace.Protocol.Provisioning;

namespace MeshTrace.Analysis.Commissioning;

/// <summary>Puts the segments of one provisioning transaction together, in whatever order they were heard; the FCS decides (Mesh Protocol 1.1 §5.3.1).</summary>
internal sealed class Transaction(long firstTimeNs)
{
    private const int MostSegments = 64;        // SegN has 6 bits
    private readonly byte[]?[] _segments = new byte[MostSegments][];
    private int _segN = -1;
    private int _totalLength;
    private byte _fcs;
    private bool _taken;

    /// <summary>All segments were there and their FCS was wrong, at least once.</summary>
    public bool FcsWasWrong { get; private set; }

    public long FirstTimeNs { get; } = firstTimeNs;

    public void Begin(byte segN, int totalLength, byte fcs, ReadOnlySpan<byte> data)
    {
        _segN = segN;
        _totalLength = totalLength;
        _fcs = fcs;
        Keep(0, data);
    }

    public void Continue(byte index, ReadOnlySpan<byte> data) => Keep(index & (MostSegments - 1), data);

    /// <summary>The first hearing of a segment counts, until the FCS has shown that one of them is wrong.</summary>
    private void Keep(int index, ReadOnlySpan<byte> data)
    {
        if (_segments[index] is null || FcsWasWrong)
            _segments[index] = data.ToArray();
    }

    /// <summary>The whole PDU, once, when all segments are there and the FCS is right.</summary>
    public bool TryTake([NotNullWhen(true)] out byte[] octets)
    {
        octets = [];
        if (_taken || _segN < 0)
            return false;
        int length = 0;
        for (int i = 0; i <= _segN; i++)
        {
            if (_segments[i] is not { } segment)
                return false;
            length += segment.Length;
        }
        if (length != _totalLength || length == 0)
            return false;
        byte[] whole = new byte[length];
        int at = 0;
        for (int i = 0; i <= _segN; i++)
        {
            _segments[i]!.CopyTo(whole, at);
            at += _segments[i]!.Length;
        }
        if (ProvisioningFcs.Compute(whole) != _fcs)
        {
            FcsWasWrong = true;     // one segment was wrong, nobody knows which: another content of it may be right
            return false;
        }
        _taken = true;
        octets = whole;
        return true;
    }
}
