using System.Buffers.Binary;

namespace MeshTrace.Protocol.Att;

/// <summary>Attribute types and UUIDs that matter to mesh (Bluetooth Assigned Numbers, 16-bit UUIDs; 0x2800, 0x2803 and 0x2902 from memory).</summary>
public static class AttUuid
{
    public const ushort PrimaryService = 0x2800, SecondaryService = 0x2801, Characteristic = 0x2803, ClientCharacteristicConfiguration = 0x2902;

    /// <summary>Data In: what the client writes. Data Out: what the server notifies.</summary>
    public const ushort ProvisioningDataIn = 0x2ADB, ProvisioningDataOut = 0x2ADC, ProxyDataIn = 0x2ADD, ProxyDataOut = 0x2ADE;

    /// <summary>The Bluetooth base UUID 00000000-0000-1000-8000-00805F9B34FB without its first four octets, low octet first.</summary>
    private static ReadOnlySpan<byte> Base => [0xFB, 0x34, 0x9B, 0x5F, 0x80, 0x00, 0x00, 0x80, 0x00, 0x10, 0x00, 0x00];

    /// <summary>The 16-bit form of a UUID of 2 or 16 octets, low octet first; null for a UUID that has none.</summary>
    public static ushort? ShortForm(ReadOnlySpan<byte> uuid) => uuid.Length switch
    {
        2 => BinaryPrimitives.ReadUInt16LittleEndian(uuid),
        16 when uuid.StartsWith(Base) && uuid[14] == 0 && uuid[15] == 0 => BinaryPrimitives.ReadUInt16LittleEndian(uuid[12..]),
        _ => null,
    };

    /// <summary>Writes the 16-bit form and returns 2.</summary>
    public static int Write(Span<byte> destination, ushort uuid)
    {
        BinaryPrimitives.WriteUInt16LittleEndian(destination, uuid);
        return 2;
    }

    /// <summary>Writes the 128-bit form of a 16-bit UUID and returns 16.</summary>
    public static int WriteLong(Span<byte> destination, ushort uuid)
    {
        Base.CopyTo(destination);
        BinaryPrimitives.WriteUInt32LittleEndian(destination[12..], uuid);
        return 16;
    }
}
