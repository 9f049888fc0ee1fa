using System.Buffers.Binary;

namespace MeshTrace.Protocol.Proxy;

/// <summary>Service Data of the Mesh Provisioning Service 0x1827, behind the UUID (Mesh Protocol 1.1 §7.1).</summary>
/// <remarks>
/// Device UUID(128) | OOB Information(16). Section 7 follows the octet order of GATT, so OOB Information is little-endian here (sample of §8.5.1),
/// while the beacon has it big-endian (§8.4.2).
/// </remarks>
public readonly ref struct ProvisioningServiceData
{
    public const int Length = 18;

    private readonly ReadOnlySpan<byte> _data;

    private ProvisioningServiceData(ReadOnlySpan<byte> data) => _data = data;

    /// <summary>The 16 octets as sent.</summary>
    public ReadOnlySpan<byte> DeviceUuid => _data[..16];

    /// <summary>The same as a UUID, first octet leftmost.</summary>
    public Guid DeviceGuid => new(DeviceUuid, bigEndian: true);

    /// <summary>Where out-of-band information is found: the same bits as in the Unprovisioned Device beacon.</summary>
    public ushort OobInformation => BinaryPrimitives.ReadUInt16LittleEndian(_data[16..]);

    /// <summary>Every check is here; once it has returned true, no property can fail.</summary>
    public static bool TryRead(ReadOnlySpan<byte> serviceData, out ProvisioningServiceData data, out DecodeProblem problem)
    {
        problem = serviceData.Length == Length ? DecodeProblem.None : DecodeProblem.WrongLength(Layer.Proxy, Length, serviceData.Length);
        data = problem.IsProblem ? default : new ProvisioningServiceData(serviceData);
        return !problem.IsProblem;
    }

    /// <summary>Writes the service data and returns its length.</summary>
    public static int Write(Span<byte> serviceData, ReadOnlySpan<byte> deviceUuid, ushort oobInformation)
    {
        deviceUuid[..16].CopyTo(serviceData);
        BinaryPrimitives.WriteUInt16LittleEndian(serviceData[16..], oobInformation);
        return Length;
    }
}
