using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Text;

/// <summary>
/// Reads text logs: each line that is not empty is a frame of <see cref="LinkType.TextLog"/>, with the octets found in it, which way they went, and the
/// words that tell what they are. Times of day are told as of 1970-01-01, times since a start as since then.
/// </summary>
internal sealed class TextLogSource : CaptureFileSource
{
    /// <summary>Octets of a line that are looked at; the rest of a longer one is passed over.</summary>
    public const int LongestLine = 64 * 1024;

    /// <summary>Octets of a line that make a text a log: addresses and small numbers are in other texts, too.</summary>
    private const int LeastTelling = 4;

    private readonly byte[] _frame = new byte[LogLine.HeaderLength + LineHex.MostOctets];
    private long _lastClockNs;
    private int _line;

    private TextLogSource(OctetWindow input, string file, int firstReceiver) : base(input, file, firstReceiver) => AddReceiver(null, LinkType.TextLog);

    protected override long FirstRecord => 0;

    public static TextLogSource Open(OctetWindow input, string file, int firstReceiver) => new(input, file, firstReceiver);

    /// <summary>True if the beginning of a text has a line with octets in it: then it is a log to be read, not some other text.</summary>
    public static bool HasOctets(ReadOnlySpan<byte> start)
    {
        Span<byte> octets = stackalloc byte[LineHex.MostOctets];
        foreach (Range range in start.Split((byte)'\n'))
        {
            ReadOnlySpan<byte> line = start[range];
            if (line.Length > LongestLine)
                line = line[..LongestLine];
            LineTime.Find(line, out _, out int end);
            if (LineHex.Find(line[end..], octets, expected: false) >= LeastTelling)
                return true;
        }
        return false;
    }

    public override bool TryReadNext(out CapturedFrame frame)
    {
        while (TryReadLine(out ReadOnlySpan<byte> line, out long offset))
        {
            if (line.Trim(" \t\r"u8).IsEmpty)
                continue;
            frame = Read(line, offset);
            return true;
        }
        frame = default;
        return false;
    }

    private CapturedFrame Read(ReadOnlySpan<byte> line, long offset)
    {
        long timeNs = TimeOf(line, out int end);
        (LineDirection direction, LineWords words) = LineMeaning.Find(line);
        Span<byte> octets = stackalloc byte[LineHex.MostOctets];
        int count = LineHex.Find(line[end..], octets, expected: words != LineWords.None || direction != LineDirection.Unknown);
        int length = LogLine.Write(_frame, words, direction, _line, octets[..count]);
        return new CapturedFrame
        {
            Receiver = FirstReceiver, LinkType = LinkType.TextLog, TimeNs = timeNs, OriginalLength = length, FileOffset = offset, Octets = _frame.AsSpan(0, length),
        };
    }

    private long TimeOf(ReadOnlySpan<byte> line, out int end)
    {
        switch (LineTime.Find(line, out long timeNs, out end))
        {
            case LineTimeForm.None:
                return CapturedFrame.NoTime;
            case LineTimeForm.Clock:
                return _lastClockNs = LineTime.PastMidnight(timeNs, _lastClockNs);
            default:
                return timeNs;
        }
    }

    /// <summary>The next line without its end; of one that is too long, its beginning.</summary>
    private bool TryReadLine(out ReadOnlySpan<byte> line, out long offset)
    {
        offset = Input.Position;
        int looked = 0;
        while (true)
        {
            bool more = Input.Fill(looked + 1);
            ReadOnlySpan<byte> available = Input.Available;
            int end = available[looked..].IndexOf((byte)'\n');
            if (end >= 0 && looked + end <= LongestLine)
            {
                line = available[..(looked + end)];
                Input.Advance(looked + end + 1);
                _line++;
                return true;
            }
            looked = available.Length;
            if (!more)
            {
                line = available;
                Input.Advance(looked);
                _line += looked > 0 ? 1 : 0;
                return looked > 0;
            }
            if (looked > LongestLine)
                return TakeLongLine(out line);
        }
    }

    private bool TakeLongLine(out ReadOnlySpan<byte> line)
    {
        byte[] head = Input.Available[..LongestLine].ToArray();
        while (Input.Fill(1))
        {
            int end = Input.Available.IndexOf((byte)'\n');
            Input.Advance(end < 0 ? Input.Available.Length : end + 1);
            if (end >= 0)
                break;
        }
        line = head;
        _line++;
        return true;
    }
}
