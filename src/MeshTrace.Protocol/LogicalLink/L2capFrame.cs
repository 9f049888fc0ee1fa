using System.Buffers.Binary;

namespace MeshTrace.Protocol.LogicalLink;

/// <summary>
/// An L2CAP basic frame, as all fixed channels use it (Bluetooth Core Specification, volume 3 part A §3.1; section number from memory).
/// </summary>
/// <remarks>Length(16) | CID(16) | information payload; little-endian. Length does not count the header.</remarks>
public readonly ref struct L2capFrame
{
    public const int HeaderLength = 4;

    /// <summary>The fixed channel of the Attribute Protocol on LE.</summary>
    public const ushort AttributeProtocol = 0x0004;

    /// <summary>The fixed channels of LE beside it: signalling and the Security Manager.</summary>
    public const ushort LeSignalling = 0x0005, SecurityManager = 0x0006;

    private readonly ReadOnlySpan<byte> _frame;

    private L2capFrame(ReadOnlySpan<byte> frame) => _frame = frame;

    public ushort ChannelId => BinaryPrimitives.ReadUInt16LittleEndian(_frame[2..]);

    public ReadOnlySpan<byte> Payload => _frame[HeaderLength..];

    /// <summary>Octets of the whole frame, header included, by its first two octets.</summary>
    public static int LengthOf(ReadOnlySpan<byte> start) => HeaderLength + BinaryPrimitives.ReadUInt16LittleEndian(start);

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    /// <param name="octets">Exactly the frame, reassembled.</param>
    public static bool TryRead(ReadOnlySpan<byte> octets, out L2capFrame frame, out DecodeProblem problem)
    {
        frame = default;
        problem = octets.Length < HeaderLength ? DecodeProblem.TooShort(Layer.LogicalLink, HeaderLength, octets.Length)
            : octets.Length != LengthOf(octets) ? DecodeProblem.WrongLength(Layer.LogicalLink, LengthOf(octets), octets.Length)
            : DecodeProblem.None;
        if (!problem.IsProblem)
            frame = new L2capFrame(octets);
        return !problem.IsProblem;
    }

    /// <summary>Writes the frame and returns its length.</summary>
    public static int Write(Span<byte> frame, ushort channelId, ReadOnlySpan<byte> payload)
    {
        ArgumentOutOfRangeException.ThrowIfGreaterThan(payload.Length, ushort.MaxValue, nameof(payload));
        BinaryPrimitives.WriteUInt16LittleEndian(frame, (ushort)payload.Length);
        BinaryPrimitives.WriteUInt16LittleEndian(frame[2..], channelId);
        payload.CopyTo(frame[HeaderLength..]);
        return HeaderLength + payload.Length;
    }
}
