using System.Buffers.Binary;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Files;

/// <summary>Reads pcap files: microseconds and nanoseconds, both byte orders.</summary>
/// <remarks>
/// PCAP Capture File Format (internet draft), sections 4 and 5.
/// File header: Magic(32) | Major(16)=2 | Minor(16) | Reserved(32) | Reserved(32) | SnapLen(32) | LinkType(32).
/// Record: Seconds(32) | Fraction(32) | CapturedLength(32) | OriginalLength(32) | octets, no padding.
/// </remarks>
internal sealed class PcapSource : CaptureFileSource
{
    public const int FileHeaderLength = 24;
    public const int RecordHeaderLength = 16;

    private const int SnapLenOffset = 16, LinkTypeOffset = 20;
    private const uint LinkTypeMask = 0xFFFF;       // above it: length of the frame check sequence, and reserved bits

    private readonly bool _bigEndian;
    private readonly uint _nsPerFraction;
    private readonly uint _longestFrame;
    private readonly LinkType _linkType;

    private PcapSource(OctetWindow input, string file, int firstReceiver, bool bigEndian, bool nanoseconds)
        : base(input, file, firstReceiver)
    {
        ReadOnlySpan<byte> header = input.Available;
        _bigEndian = bigEndian;
        _nsPerFraction = nanoseconds ? 1u : 1000u;
        uint snapLen = Read32(header[SnapLenOffset..]);
        const int longestRecord = CaptureLimits.LongestRecord - RecordHeaderLength;
        _longestFrame = (uint)Math.Clamp(snapLen, CaptureLimits.LongestUsualFrame, longestRecord);
        _linkType = new LinkType((int)(Read32(header[LinkTypeOffset..]) & LinkTypeMask));
        AddReceiver(null, _linkType, nanoseconds ? 9 : 6);
        input.Advance(FileHeaderLength);
    }

    protected override long FirstRecord => FileHeaderLength;

    /// <summary>Takes the file header off; the input stands at it and is known to begin with one of the four magic numbers.</summary>
    /// <exception cref="CaptureFormatException">The header is cut or of another version.</exception>
    public static PcapSource Open(OctetWindow input, string file, int firstReceiver, bool bigEndian, bool nanoseconds)
    {
        if (!input.Fill(FileHeaderLength))
            throw CaptureRefusal.HeaderCut(file, "pcap", FileHeaderLength, input);
        ReadOnlySpan<byte> version = input.Available[4..];
        int major = bigEndian ? BinaryPrimitives.ReadUInt16BigEndian(version) : BinaryPrimitives.ReadUInt16LittleEndian(version);
        if (major != 2)
            throw CaptureRefusal.Version(file, "pcap", 4, major, "2");
        return new PcapSource(input, file, firstReceiver, bigEndian, nanoseconds);
    }

    public override bool TryReadNext(out CapturedFrame frame)
    {
        ReadOnlySpan<byte> record = Input.Available;
        if (record.Length < RecordHeaderLength)
        {
            frame = default;
            if (!Input.Fill(RecordHeaderLength))
                return EndOrCut("a record header", RecordHeaderLength);
            record = Input.Available;
        }

        ReadOnlySpan<byte> header = record[..RecordHeaderLength];
        uint seconds = Read32(header);
        uint fraction = Read32(header[4..]);
        uint captured = Read32(header[8..]);
        uint original = Read32(header[12..]);
        long offset = Input.Position;
        if (captured > _longestFrame || (seconds | fraction | captured | original) == 0)
        {
            frame = default;
            return Stop(offset, NoRecord(captured));
        }

        int length = RecordHeaderLength + (int)captured;
        bool whole = record.Length >= length || Input.Fill(length);
        if (record.Length < length)     // the buffer has moved
            record = Input.Available;
        int have = whole ? length : record.Length;

        frame = default;
        frame.Receiver = FirstReceiver;
        frame.LinkType = _linkType;
        frame.TimeNs = ((long)seconds * 1_000_000_000) + ((long)fraction * _nsPerFraction);
        frame.OriginalLength = (int)Math.Min(Math.Max(original, captured), int.MaxValue);
        frame.FileOffset = offset;
        frame.Octets = record[RecordHeaderLength..have];
        Input.Advance(have);
        if (!whole)
            Cut(offset, "a record", length, have);
        return true;
    }

    private uint Read32(ReadOnlySpan<byte> octets) =>
        _bigEndian ? BinaryPrimitives.ReadUInt32BigEndian(octets) : BinaryPrimitives.ReadUInt32LittleEndian(octets);

    private static string NoRecord(uint captured) => captured == 0
        ? "zeros stand where a record header should be: the recorder did not finish the file"
        : FormattableString.Invariant($"the captured length {captured} is longer than a frame of this file can be: this is no record header");
}
