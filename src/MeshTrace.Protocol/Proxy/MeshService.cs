using System.Buffers.Binary;

namespace MeshTrace.Protocol.Proxy;

/// <summary>The 16-bit service UUIDs that matter to the mesh (Bluetooth Assigned Numbers, 16-bit UUIDs).</summary>
public static class MeshService
{
    public const ushort Provisioning = 0x1827, Proxy = 0x1828, ProxySolicitation = 0x1859;

    /// <summary>
    /// Splits the data of the AD type Service Data - 16-bit UUID: the UUID, low octet first, and what belongs to the service.
    /// </summary>
    public static bool TryRead(ReadOnlySpan<byte> adData, out ushort uuid, out ReadOnlySpan<byte> serviceData)
    {
        bool read = adData.Length >= 2;
        uuid = read ? BinaryPrimitives.ReadUInt16LittleEndian(adData) : (ushort)0;
        serviceData = read ? adData[2..] : default;
        return read;
    }

    /// <summary>Writes the UUID in front of service data that stands already at <paramref name="adData"/>[2..]; returns 2.</summary>
    public static int Write(Span<byte> adData, ushort uuid)
    {
        BinaryPrimitives.WriteUInt16LittleEndian(adData, uuid);
        return 2;
    }
}
