using System.Buffers.Binary;
using MeshTrace.Analysis.Contents;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol.Beacons;
using MeshTrace.Protocol.Network;

namespace MeshTrace.Analysis.Redaction;

/// <summary>
/// Makes mesh AD structures again under fresh keys, in their own length: Network PDUs, beacons and provisioning. Of what no key opened only the place is kept, and which of
/// them are the same.
/// </summary>
internal sealed class ContentRedactor(CaptureHistory history, Pseudonyms pseudonyms, TransportRedactor transport, ProvisioningRedactor provisioning)
{
    private const int Slots = 4_096;        // copies come close together

    private readonly (int Content, byte[] Octets)[] _recent = new (int, byte[])[Slots];

    /// <summary>Network PDUs of ours that could not be opened, and those of other networks; each counted as often as it was heard.</summary>
    public long Unopened { get; private set; }

    public void StartOver() => Unopened = 0;

    /// <summary>Puts what takes its place into the octets.</summary>
    /// <param name="kind">What the octets are.</param>
    /// <param name="octets">An AD structure without length and type, as heard.</param>
    public void Redact(ContentKind kind, Span<byte> octets)
    {
        int row = history.Contents.Find(kind, octets);
        if (row < 0)        // not taken for mesh
        {
            octets.Clear();
            return;
        }
        if (kind.IsNetworkPdu() && history.ContentFlood(row) < 0)
            Unopened++;
        ref (int Content, byte[] Octets) slot = ref _recent[row % Slots];
        if (slot.Octets is null || slot.Content != row)
            slot = (row, Make(row));
        slot.Octets.CopyTo(octets);
    }

    private byte[] Make(int row)
    {
        ref ContentRow content = ref history.Contents[row];
        byte[] octets = content.Octets.ToArray();
        switch (content.Kind)
        {
            case ContentKind.SecureBeacon:
                MakeSecure(octets);
                break;
            case ContentKind.PrivateBeacon:
                MakePrivate(octets);
                break;
            case ContentKind.PbAdv:
                provisioning.Bearer(octets);
                break;
            case ContentKind.UnprovisionedBeacon:
                MakeUnprovisioned(octets);
                break;
            case var kind when kind.IsNetworkPdu():
                MakeNetworkPdu(row, octets);
                break;
            default:
                octets.AsSpan().Clear();
                break;
        }
        return octets;
    }

    private void MakeNetworkPdu(int row, Span<byte> pdu)
    {
        if (history.ContentFlood(row) is var flood and >= 0 && Opener(pdu, in history.Floods[flood]) is { } candidate)
            Encrypt(in history.Floods[flood], history.Contents[row].Ttl, candidate, pdu);
        else
            Unknown(pdu);
    }

    /// <summary>Which credentials opened it.</summary>
    private NetworkCandidate? Opener(ReadOnlySpan<byte> pdu, in FloodRow flood)
    {
        Span<byte> clear = stackalloc byte[NetworkSecurity.LongestPdu];
        foreach (NetworkCandidate candidate in history.Keys.CandidatesFor(pdu[0]))
            if (candidate.Subnet == flood.Subnet && NetworkSecurity.TryDecrypt(pdu, candidate.Credentials, flood.IvIndex, clear, out _))
                return candidate;
        return null;
    }

    private void Encrypt(in FloodRow flood, byte ttl, NetworkCandidate candidate, Span<byte> pdu)
    {
        var credentials = pseudonyms.Credentials(candidate);
        Span<byte> lower = stackalloc byte[NetworkSecurity.LongestPdu], clear = stackalloc byte[NetworkSecurity.LongestPdu];
        transport.Write(in flood, lower);
        int length = NetworkSecurity.Write(clear, flood.IvIndex, credentials.Nid, flood.Ctl, ttl, flood.Seq, pseudonyms.Addresses.Of(flood.Src), transport.DstOf(in flood),
            lower[..flood.TransportPdu.Length]);
        NetworkSecurity.Encrypt(clear[..length], credentials, flood.IvIndex, pdu);
    }

    /// <summary>IVI and a NID are left of it.</summary>
    public void Unknown(Span<byte> pdu)
    {
        if (pdu.IsEmpty)
            return;
        byte first = (byte)((pdu[0] & 0x80) | pseudonyms.Nid((byte)(pdu[0] & 0x7F)));
        pseudonyms.Octets(pdu);
        pdu[0] = first;
    }

    private void MakeSecure(Span<byte> octets)
    {
        if (!SecureNetworkBeacon.TryRead(octets, out SecureNetworkBeacon beacon, out _))
        {
            pseudonyms.Octets(octets[1..]);
            return;
        }
        foreach (int row in history.Keys.SubnetsWith(beacon.NetworkId))
        {
            if (!beacon.Authenticate(history.Keys.Subnets[row].Material.BeaconKey))
                continue;
            SecureNetworkBeacon.Write(octets, beacon.Flags, pseudonyms.NetKey(row).NetworkId, beacon.IvIndex, pseudonyms.NetKey(row).BeaconKey);
            return;
        }
        ulong networkId = pseudonyms.NetworkId(beacon.NetworkId);
        pseudonyms.Octets(octets[^beacon.AuthenticationValue.Length..]);
        BinaryPrimitives.WriteUInt64BigEndian(octets[2..], networkId);
    }

    private void MakePrivate(Span<byte> octets)
    {
        if (PrivateBeacon.TryRead(octets, out PrivateBeacon beacon, out _))
        {
            for (int row = 0; row < history.Keys.Subnets.Count; row++)
            {
                if (!beacon.TryOpen(history.Keys.Subnets[row].Material.PrivateBeaconKey, out BeaconFlags flags, out uint ivIndex))
                    continue;
                Span<byte> random = stackalloc byte[beacon.Random.Length];
                beacon.Random.CopyTo(random);
                pseudonyms.Octets(random);
                PrivateBeacon.Write(octets, random, flags, ivIndex, pseudonyms.NetKey(row).PrivateBeaconKey);
                return;
            }
        }
        pseudonyms.Octets(octets[1..]);
    }

    private void MakeUnprovisioned(Span<byte> octets)
    {
        if (UnprovisionedDeviceBeacon.TryRead(octets, out UnprovisionedDeviceBeacon beacon, out _))
        {
            uint? hash = beacon.UriHash;
            pseudonyms.Uuid(beacon.DeviceGuid).TryWriteBytes(octets[1..], bigEndian: true, out _);
            if (hash is not null)
                pseudonyms.Octets(octets[UnprovisionedDeviceBeacon.LengthWithoutUriHash..]);
        }
        else
            pseudonyms.Octets(octets[1..]);
    }
}
