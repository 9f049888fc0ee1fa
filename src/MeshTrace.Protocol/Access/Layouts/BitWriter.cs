namespace MeshTrace.Protocol.Access.Layouts;

/// <summary>Collects integers of any size and octets into a PDU.</summary>
internal sealed class BitWriter(bool bigEndian)
{
    private byte[] _octets = new byte[32];
    private int _bit;

    /// <summary>Octets written, a last one that is not full counted.</summary>
    public int Length => (_bit + 7) / 8;

    public void Write(ulong value, int bits)
    {
        Grow(bits);
        Bits.Write(_octets, _bit, bits, bigEndian, value);
        _bit += bits;
    }

    public void Write(ReadOnlySpan<byte> octets)
    {
        Align();
        Grow(octets.Length * 8);
        octets.CopyTo(_octets.AsSpan(_bit / 8));
        _bit += octets.Length * 8;
    }

    /// <summary>Leaves the rest of an octet that is not full at 0.</summary>
    public void Align() => _bit = Length * 8;

    public byte[] ToArray() => _octets.AsSpan(0, Length).ToArray();

    private void Grow(int bits)
    {
        int needed = (_bit + bits + 7) / 8;
        if (needed > _octets.Length)
            Array.Resize(ref _octets, Math.Max(needed, _octets.Length * 2));
    }
}
