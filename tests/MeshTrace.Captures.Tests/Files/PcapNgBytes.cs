using System.Buffers.Binary;

namespace MeshTrace.Captures.Tests.Files;

/// <summary>pcapng blocks laid out by hand, so that the reader is not only tested against our own writer.</summary>
internal sealed class PcapNgBytes(bool bigEndian)
{
    private readonly List<byte> _octets = [];

    public byte[] ToArray() => [.. _octets];

    public long Length => _octets.Count;

    /// <summary>Section header 1.0, section length not told.</summary>
    public PcapNgBytes Section(bool big, int minor = 0)
    {
        bigEndian = big;
        return Block(0x0A0D0D0A, U32(0x1A2B3C4D), U16(1), U16(minor), Hex.Octets("FFFFFFFFFFFFFFFF"));
    }

    public PcapNgBytes Interface(int linkType, uint snapLen, params byte[][] options) =>
        Block(1, [U16(linkType), U16(0), U32(snapLen), .. options]);

    public PcapNgBytes Enhanced(uint id, ulong ticks, string hex, uint? original = null, params byte[][] options)
    {
        byte[] octets = Hex.Octets(hex);
        return Block(6, [U32(id), U32((uint)(ticks >> 32)), U32((uint)(ticks & uint.MaxValue)), U32((uint)octets.Length),
            U32(original ?? (uint)octets.Length), Pad(octets), .. options]);
    }

    public PcapNgBytes Obsolete(int id, int drops, ulong ticks, string hex, uint? original = null, params byte[][] options)
    {
        byte[] octets = Hex.Octets(hex);
        return Block(2, [U16(id), U16(drops), U32((uint)(ticks >> 32)), U32((uint)(ticks & uint.MaxValue)), U32((uint)octets.Length),
            U32(original ?? (uint)octets.Length), Pad(octets), .. options]);
    }

    public PcapNgBytes Simple(uint original, string hex) => Block(3, U32(original), Pad(Hex.Octets(hex)));

    public PcapNgBytes Statistics(uint id, params byte[][] options) => Block(5, [U32(id), U32(0), U32(0), .. options]);

    public PcapNgBytes Block(uint type, params byte[][] body)
    {
        uint length = 12 + (uint)body.Sum(part => part.Length);
        return Raw([U32(type), U32(length), .. body, U32(length)]);
    }

    public PcapNgBytes Raw(params byte[][] parts)
    {
        foreach (byte[] part in parts)
            _octets.AddRange(part);
        return this;
    }

    public byte[] Option(int code, byte[] value) => [.. U16(code), .. U16(value.Length), .. Pad(value)];

    public byte[] Option(int code, string text) => Option(code, System.Text.Encoding.UTF8.GetBytes(text));

    public byte[] EndOfOptions => U32(0);

    public byte[] U16(int value)
    {
        byte[] octets = [(byte)value, (byte)(value >> 8)];
        return bigEndian ? [octets[1], octets[0]] : octets;
    }

    public byte[] U32(uint value)
    {
        byte[] octets = new byte[4];
        if (bigEndian)
            BinaryPrimitives.WriteUInt32BigEndian(octets, value);
        else
            BinaryPrimitives.WriteUInt32LittleEndian(octets, value);
        return octets;
    }

    public byte[] U64(ulong value)
    {
        byte[] high = U32((uint)(value >> 32)), low = U32((uint)(value & uint.MaxValue));
        return bigEndian ? [.. high, .. low] : [.. low, .. high];
    }

    private static byte[] Pad(byte[] octets) => [.. octets, .. new byte[-octets.Length & 3]];
}
