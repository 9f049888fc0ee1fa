using System.Buffers.Binary;

namespace MeshTrace.Protocol.Provisioning;

/// <summary>The plain data that Provisioning Data carries encrypted (Mesh Protocol 1.1 §5.4.2.5; section number from memory).</summary>
/// <remarks>NetworkKey(16 octets) | KeyIndex(16, high 4 bits 0) | Flags(8) | IVIndex(32) | UnicastAddress(16); big-endian.</remarks>
public readonly ref struct PlainProvisioningData
{
    public const int Length = 25;
    private const int KeyLength = 16;
    private readonly ReadOnlySpan<byte> _data;

    private PlainProvisioningData(ReadOnlySpan<byte> data) => _data = data;

    public ReadOnlySpan<byte> NetworkKey => _data[..KeyLength];

    /// <summary>The low 12 bits; the others are ignored on receipt.</summary>
    public ushort KeyIndex => (ushort)(BinaryPrimitives.ReadUInt16BigEndian(_data[KeyLength..]) & 0x0FFF);

    /// <summary>Bit 0 Key Refresh, bit 1 IV Update.</summary>
    public byte Flags => _data[18];

    public bool KeyRefresh => (Flags & 0x01) != 0;
    public bool IvUpdate => (Flags & 0x02) != 0;
    public uint IvIndex => BinaryPrimitives.ReadUInt32BigEndian(_data[19..]);
    public MeshAddress UnicastAddress => new(BinaryPrimitives.ReadUInt16BigEndian(_data[23..]));

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> octets, out PlainProvisioningData data, out DecodeProblem problem)
    {
        problem = octets.Length == Length ? DecodeProblem.None : DecodeProblem.WrongLength(Layer.Provisioning, Length, octets.Length);
        data = problem.IsProblem ? default : new PlainProvisioningData(octets);
        return !problem.IsProblem;
    }

    /// <summary>Writes the data and returns the octets written.</summary>
    public static int Write(
        Span<byte> destination, ReadOnlySpan<byte> networkKey, ushort keyIndex, byte flags, uint ivIndex, MeshAddress unicastAddress)
    {
        ArgumentOutOfRangeException.ThrowIfNotEqual(networkKey.Length, KeyLength, nameof(networkKey));
        networkKey.CopyTo(destination);
        BinaryPrimitives.WriteUInt16BigEndian(destination[KeyLength..], keyIndex);
        destination[18] = flags;
        BinaryPrimitives.WriteUInt32BigEndian(destination[19..], ivIndex);
        BinaryPrimitives.WriteUInt16BigEndian(destination[23..], unicastAddress.Value);
        return Length;
    }
}
