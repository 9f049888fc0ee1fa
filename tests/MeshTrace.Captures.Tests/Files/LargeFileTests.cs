using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Tests.Files;

/// <summary>
/// A file of more than 4 GiB, nearly all of it a hole: blocks of an unknown type, which a reader passes over by their length, with frames before, between and
/// behind them, at offsets that need more than 31 and more than 32 bits.
/// </summary>
public class LargeFileTests
{
    private const uint Hole = 0xFFFF_FF00;      // a multiple of 4, a block's longest but for some octets

    [Fact]
    public void FramesBehindFourGibibytes_AreReadAndFoundAgain()
    {
        using Hollow file = Composed(out long[] offsets);
        using var source = (CaptureFileSource)CaptureFile.Open(file, "hollow");
        ReadCapture read = ReadCapture.Of(source);
        Assert.Null(read.Damage);
        Assert.Equal(offsets, read.Frames.Select(frame => frame.FileOffset));
        Assert.Equal(["01", "02", "03"], read.Frames.Select(frame => frame.Octets));
        Assert.InRange(offsets[2], 1L << 32, long.MaxValue);
        Assert.Equal(file.Length, read.Position);
        foreach (int again in (int[])[2, 0, 1, 2])
        {
            Assert.True(source.TryReadAt(offsets[again], out CapturedFrame frame));
            Assert.Equal(again + 1, frame.Octets[0]);
        }
    }

    /// <summary>What is damaged there is told with its whole offset.</summary>
    [Fact]
    public void DamageBehindFourGibibytes_IsToldWhereItIs()
    {
        using Hollow file = Composed(out long[] offsets, cut: 5);
        using IFrameSource source = CaptureFile.Open(file, "hollow");
        ReadCapture read = ReadCapture.Of(source);
        Assert.Equal(offsets[2], read.Damage!.Offset);
    }

    private static Hollow Composed(out long[] offsets, int cut = 0)
    {
        var file = new Hollow();
        offsets = new long[3];
        file.Add(new PcapNgBytes(bigEndian: false).Section(big: false).Interface(251, 0).ToArray());
        for (int frame = 0; frame < 3; frame++)
        {
            offsets[frame] = file.Length;
            byte[] packet = new PcapNgBytes(bigEndian: false).Enhanced(0, (ulong)frame, $"0{frame + 1}").ToArray();
            file.Add(frame == 2 ? packet[..^cut] : packet);
            if (frame == 2)
                continue;
            byte[] length = new PcapNgBytes(bigEndian: false).U32(Hole);
            file.Add([.. new PcapNgBytes(bigEndian: false).U32(0x0BAD), .. length]);
            file.Skip(Hole - 12);
            file.Add(length);
        }
        return file;
    }

    /// <summary>Octets at their places, zeros between them.</summary>
    private sealed class Hollow : Stream
    {
        private readonly List<(long At, byte[] Octets)> _parts = [];
        private long _length;

        public override bool CanRead => true;
        public override bool CanSeek => true;
        public override bool CanWrite => false;
        public override long Length => _length;
        public override long Position { get; set; }

        public void Add(byte[] octets)
        {
            _parts.Add((_length, octets));
            _length += octets.Length;
        }

        public void Skip(long count) => _length += count;

        public override int Read(byte[] buffer, int offset, int count) => Read(buffer.AsSpan(offset, count));

        public override int Read(Span<byte> buffer)
        {
            int given = (int)Math.Min(buffer.Length, _length - Position);
            buffer = buffer[..given];
            buffer.Clear();
            foreach ((long at, byte[] octets) in _parts)
            {
                long from = Math.Max(at, Position), to = Math.Min(at + octets.Length, Position + given);
                if (from < to)
                    octets.AsSpan((int)(from - at), (int)(to - from)).CopyTo(buffer[(int)(from - Position)..]);
            }
            Position += given;
            return given;
        }

        public override long Seek(long offset, SeekOrigin origin) =>
            Position = origin switch { SeekOrigin.Begin => offset, SeekOrigin.Current => Position + offset, _ => _length + offset };

        public override void Flush()
        {
        }

        public override void SetLength(long value) => throw new NotSupportedException();

        public override void Write(byte[] buffer, int offset, int count) => throw new NotSupportedException();
    }
}
