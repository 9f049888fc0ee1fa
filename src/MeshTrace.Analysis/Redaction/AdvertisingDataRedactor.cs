using System.Buffers.Binary;
using MeshTrace.Analysis.Contents;
using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Beacons;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Proxy;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Analysis.Redaction;

/// <summary>
/// Goes through the AD structures of advertising data: those of the mesh are made again, and of all others, names and makers' data among them, zeros are left
/// behind their type.
/// </summary>
internal sealed class AdvertisingDataRedactor(KeyRing keys, Pseudonyms pseudonyms, ContentRedactor contents)
{
    private const int ServiceUuidOctets = 2;

    /// <summary>Rewrites advertising data in place.</summary>
    public void Redact(Span<byte> advData)
    {
        int at = 0;
        while (at < advData.Length && advData[at] is var length and > 0 && at + length < advData.Length)
        {
            Span<byte> structure = advData.Slice(at + 1, length);
            Redact((AdType)structure[0], structure[1..]);
            at += length + 1;
        }
        if (at + 1 < advData.Length)
            advData[(at + 1)..].Clear();        // padding, or a structure that does not fit
    }

    private void Redact(AdType type, Span<byte> data)
    {
        switch (type)
        {
            case AdType.Flags:
                break;
            case AdType.MeshMessage:
                contents.Redact(ContentKind.MeshMessage, data);
                break;
            case AdType.PbAdv:
                contents.Redact(ContentKind.PbAdv, data);
                break;
            case AdType.MeshBeacon when data is [(byte)BeaconType.UnprovisionedDevice or (byte)BeaconType.SecureNetwork or (byte)BeaconType.MeshPrivate, ..]:
                contents.Redact(KindOf((BeaconType)data[0]), data);
                break;
            case AdType.IncompleteServiceUuids16 or AdType.CompleteServiceUuids16:
                for (int at = 0; at < data.Length; at += ServiceUuidOctets)
                    if (!IsMesh(data[at..]))
                        data[at..Math.Min(at + ServiceUuidOctets, data.Length)].Clear();
                break;
            case AdType.ServiceData16 when IsMesh(data):
                RedactService(BinaryPrimitives.ReadUInt16LittleEndian(data), data[ServiceUuidOctets..]);
                break;
            default:
                data.Clear();
                break;
        }
    }

    public static ContentKind KindOf(BeaconType beacon) => beacon switch
    {
        BeaconType.UnprovisionedDevice => ContentKind.UnprovisionedBeacon,
        BeaconType.SecureNetwork => ContentKind.SecureBeacon,
        _ => ContentKind.PrivateBeacon,
    };

    private static bool IsMesh(ReadOnlySpan<byte> uuid) =>
        uuid.Length >= ServiceUuidOctets && BinaryPrimitives.ReadUInt16LittleEndian(uuid) is MeshService.Provisioning or MeshService.Proxy or MeshService.ProxySolicitation;

    private void RedactService(ushort uuid, Span<byte> data)
    {
        if (uuid == MeshService.Provisioning && ProvisioningServiceData.TryRead(data, out ProvisioningServiceData device, out _))
            pseudonyms.Uuid(device.DeviceGuid).TryWriteBytes(data, bigEndian: true, out _);
        else if (uuid == MeshService.Proxy && ProxyServiceData.TryRead(data, out ProxyServiceData proxy, out _))
            RedactProxy(in proxy, data);
        else if (uuid == MeshService.ProxySolicitation && data.Length > 1)
            pseudonyms.Octets(data[1..]);       // the Identification Type stays
        else
            data.Clear();
    }

    /// <summary>An identity of one of our nodes is made again; of others only its kind is left.</summary>
    private void RedactProxy(in ProxyServiceData proxy, Span<byte> data)
    {
        if (proxy.NetworkId is { } networkId)
        {
            ProxyServiceData.WriteNetworkId(data, pseudonyms.NetworkId(networkId));
            return;
        }
        ulong random = proxy.Random!.Value;
        for (int row = 0; row < keys.Subnets.Count; row++)
        {
            NetKeyMaterial own = keys.Subnets[row].Material;
            if (proxy.IsOf(own))
            {
                ProxyServiceData.WritePrivateNetworkIdentity(data, pseudonyms.NetKey(row), random);
                return;
            }
            foreach (MeshAddress node in pseudonyms.Nodes)
            {
                if (!proxy.IsOf(own.IdentityKey, node))
                    continue;
                ProxyServiceData.WriteNodeIdentity(data, pseudonyms.NetKey(row).IdentityKey, pseudonyms.Addresses.Of(node), random, proxy.Type == IdentificationType.PrivateNodeIdentity);
                return;
            }
        }
        pseudonyms.Octets(data[1..]);
    }
}
