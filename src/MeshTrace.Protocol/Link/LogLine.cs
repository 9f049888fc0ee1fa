using System.Buffers.Binary;

namespace MeshTrace.Protocol.Link;

/// <summary>Words of a log line that tell what its octets are.</summary>
[Flags]
public enum LineWords : ushort
{
    None = 0,
    Proxy = 1 << 0,
    Network = 1 << 1,
    Provisioning = 1 << 2,
    Beacon = 1 << 3,
    Access = 1 << 4,
    UpperTransport = 1 << 5,

    /// <summary>The octets are a key: they are not looked at.</summary>
    Key = 1 << 6,
}

/// <summary>Which way the octets of a log line went.</summary>
public enum LineDirection : byte
{
    Unknown,

    /// <summary>"sent", "TX", "-&gt;": by whoever wrote the log.</summary>
    Sent,

    /// <summary>"received", "RX", "&lt;-".</summary>
    Received,

    /// <summary>"write": from a GATT client to its server.</summary>
    Written,

    /// <summary>"notification": from a GATT server to its client.</summary>
    Notified,
}

/// <summary>What was made of one line of a text log: the frame of <see cref="LinkType.TextLog"/>. Our own form; nothing outside the program has it.</summary>
/// <remarks>Words(16) | Direction(8) | Line(32), from 1 | octets; big-endian. Without octets the line has no hexadecimal to speak of.</remarks>
public readonly ref struct LogLine
{
    public const int HeaderLength = 7;

    private readonly ReadOnlySpan<byte> _line;

    private LogLine(ReadOnlySpan<byte> line) => _line = line;

    public LineWords Words => (LineWords)BinaryPrimitives.ReadUInt16BigEndian(_line);
    public LineDirection Direction => (LineDirection)_line[2];

    /// <summary>Number of the line in its file, from 1.</summary>
    public int Line => (int)(BinaryPrimitives.ReadUInt32BigEndian(_line[3..]) & int.MaxValue);
    public ReadOnlySpan<byte> Octets => _line[HeaderLength..];

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out LogLine line, out DecodeProblem problem)
    {
        problem = octets.Length >= HeaderLength ? DecodeProblem.None : DecodeProblem.TooShort(Layer.Link, HeaderLength, octets.Length);
        line = problem.IsProblem ? default : new LogLine(octets);
        return !problem.IsProblem;
    }

    /// <summary>Writes the form and returns its length.</summary>
    public static int Write(Span<byte> destination, LineWords words, LineDirection direction, int line, ReadOnlySpan<byte> octets)
    {
        BinaryPrimitives.WriteUInt16BigEndian(destination, (ushort)words);
        destination[2] = (byte)direction;
        BinaryPrimitives.WriteUInt32BigEndian(destination[3..], (uint)line);
        octets.CopyTo(destination[HeaderLength..]);
        return HeaderLength + octets.Length;
    }
}
