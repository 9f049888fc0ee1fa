using MeshTrace.Protocol.LogicalLink;

namespace MeshTrace.Analysis.Connections;

/// <summary>
/// Puts the pieces of L2CAP frames of one direction together (Core Specification, volume 3 part A §7.2.1). What does not fit is dropped: no frame is
/// ever given that was not begun, or is longer or shorter than it says.
/// </summary>
internal sealed class FrameAssembly
{
    /// <summary>Longest frame of the Attribute Protocol that is put together: a value of 512 octets, with room. Longer ones of any channel are passed over.</summary>
    public const int LongestFrame = 1024;

    private byte[] _buffer = [];
    private int _have, _needed;     // _needed: 0 while nothing is begun, -1 while the length is not all there

    /// <summary>A frame is begun and not whole.</summary>
    public bool IsOpen => _needed != 0;

    /// <summary>The whole frame, after <see cref="Take"/> returned true.</summary>
    public ReadOnlySpan<byte> Whole => _buffer.AsSpan(0, _have);

    /// <summary>Takes a piece.</summary>
    /// <param name="starts">It is the first of a frame.</param>
    /// <param name="piece">Its octets.</param>
    /// <param name="lost">Frames that were given up: an open one, or one whose beginning was not there.</param>
    /// <returns>True if the frame is whole now: <see cref="Whole"/>, until the next call.</returns>
    public bool Take(bool starts, ReadOnlySpan<byte> piece, out int lost)
    {
        lost = 0;
        if (starts)
        {
            lost = IsOpen ? 1 : 0;
            _have = 0;
            _needed = -1;
        }
        else if (!IsOpen)
        {
            lost = piece.IsEmpty ? 0 : 1;
            return false;
        }
        Append(piece);
        if (_needed < 0 && _have >= 2)
            _needed = L2capFrame.LengthOf(_buffer);
        if (_needed < 0 || _have < _needed)
            return false;
        bool fits = _have == _needed && _have <= LongestFrame;
        lost += fits ? 0 : 1;
        _needed = 0;
        return fits;
    }

    /// <summary>Gives up what is open; true if there was something.</summary>
    public bool Drop()
    {
        bool open = IsOpen;
        _needed = 0;
        return open;
    }

    /// <summary>Octets beyond the longest frame are counted, not kept.</summary>
    private void Append(ReadOnlySpan<byte> piece)
    {
        int end = Math.Min(_have + piece.Length, LongestFrame + 1);
        if (_buffer.Length < end)
            Array.Resize(ref _buffer, Math.Min(LongestFrame + 1, Math.Max(end, 64)));
        if (end > _have)
            piece[..(end - _have)].CopyTo(_buffer.AsSpan(_have));
        _have += piece.Length;
    }
}
