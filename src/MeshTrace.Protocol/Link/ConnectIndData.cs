using System.Buffers.Binary;

namespace MeshTrace.Protocol.Link;

/// <summary>
/// LLData of CONNECT_IND and AUX_CONNECT_REQ: what both sides need to meet on the data channels (Bluetooth Core Specification, volume 6 part B
/// §2.3.3.1; layout from memory).
/// </summary>
/// <remarks>
/// AA(32) | CRCInit(24) | WinSize(8) | WinOffset(16) | Interval(16) | Latency(16) | Timeout(16) | ChM(40) | Hop(5) SCA(3); little-endian.
/// </remarks>
public readonly ref struct ConnectIndData
{
    public const int Length = 22;

    private readonly ReadOnlySpan<byte> _data;

    private ConnectIndData(ReadOnlySpan<byte> data) => _data = data;

    public uint AccessAddress => BinaryPrimitives.ReadUInt32LittleEndian(_data);

    /// <summary>Initial value of the CRC of the connection, 24 bits.</summary>
    public uint CrcInit => (uint)(_data[4] | (_data[5] << 8) | (_data[6] << 16));

    /// <summary>In units of 1.25 ms.</summary>
    public ushort Interval => BinaryPrimitives.ReadUInt16LittleEndian(_data[10..]);

    /// <summary>Connection events that the peripheral may pass over.</summary>
    public ushort Latency => BinaryPrimitives.ReadUInt16LittleEndian(_data[12..]);

    /// <summary>Supervision timeout in units of 10 ms.</summary>
    public ushort Timeout => BinaryPrimitives.ReadUInt16LittleEndian(_data[14..]);

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out ConnectIndData data, out DecodeProblem problem)
    {
        problem = octets.Length == Length ? DecodeProblem.None : DecodeProblem.WrongLength(Layer.Link, Length, octets.Length);
        data = problem.IsProblem ? default : new ConnectIndData(octets);
        return !problem.IsProblem;
    }

    /// <summary>Writes LLData for all 37 data channels and returns its length.</summary>
    public static int Write(Span<byte> data, uint accessAddress, uint crcInit, ushort interval, ushort latency, ushort timeout, int hop)
    {
        data[..Length].Clear();
        BinaryPrimitives.WriteUInt32LittleEndian(data, accessAddress);
        data[4] = (byte)(crcInit & 0xFF);
        data[5] = (byte)((crcInit >> 8) & 0xFF);
        data[6] = (byte)((crcInit >> 16) & 0xFF);
        data[7] = 1;                                            // WinSize
        BinaryPrimitives.WriteUInt16LittleEndian(data[10..], interval);
        BinaryPrimitives.WriteUInt16LittleEndian(data[12..], latency);
        BinaryPrimitives.WriteUInt16LittleEndian(data[14..], timeout);
        data[16..20].Fill(0xFF);
        data[20] = 0x1F;                                        // channels 32 to 36
        data[21] = (byte)(hop & 0x1F);
        return Length;
    }
}
