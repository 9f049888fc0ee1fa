using System.Globalization;
using MeshTrace.Analysis.Contents;
using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol.Beacons;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Beacons;

/// <summary>Tells beacons apart, checks them with the keys, and takes IV indexes from those that authenticate (Mesh Protocol 1.1 §3.10).</summary>
internal sealed class BeaconTable(KeyRing keys, ContentTable contents)
{
    private const long NsADay = 86_400_000_000_000;
    private readonly List<BeaconRecord> _beacons = [];
    private readonly Dictionary<(int Subnet, bool KeyRefresh, bool IvUpdate, uint IvIndex), int> _opened = [];
    private readonly Dictionary<(ulong Advertiser, long Day), int> _unopened = [];

    public IReadOnlyList<BeaconRecord> Beacons => _beacons;

    /// <summary>Takes the IV index from beacons among new contents before any PDU of them is opened.</summary>
    public void LearnIvIndexes(int from)
    {
        for (int row = from; row < contents.Count; row++)
        {
            ref ContentRow content = ref contents[row];
            if (content.Kind == ContentKind.SecureBeacon && SecureNetworkBeacon.TryRead(content.Octets, out SecureNetworkBeacon secure, out _))
            {
                int subnet = Authenticate(secure);
                if (subnet >= 0)
                    Learn(subnet, secure.IvIndex);
            }
            else if (content.Kind == ContentKind.PrivateBeacon && TryOpen(content.Octets, out int opened, out _, out uint ivIndex))
                Learn(opened, ivIndex);
        }
    }

    /// <summary>Counts a beacon heard in a frame.</summary>
    public void Take(int contentRow, int frame, long timeNs, ulong advertiser)
    {
        ref ContentRow content = ref contents[contentRow];
        if (content.Owner < 0)
        {
            int found = content.Kind switch
            {
                ContentKind.SecureBeacon => AddSecure(content.Octets),
                ContentKind.UnprovisionedBeacon => AddUnprovisioned(content.Octets),
                _ => FindPrivate(content.Octets, timeNs, advertiser),
            };
            if (found < 0)
                return;
            content.Owner = found;
        }
        BeaconRecord beacon = _beacons[content.Owner];
        beacon.Count++;
        beacon.Frames.Add(frame);
        if (timeNs == CapturedFrame.NoTime)
            return;
        beacon.FirstTimeNs = beacon.FirstTimeNs == CapturedFrame.NoTime ? timeNs : Math.Min(beacon.FirstTimeNs, timeNs);
        beacon.LastTimeNs = Math.Max(beacon.LastTimeNs, timeNs);
    }

    public void Clear()
    {
        _beacons.Clear();
        _opened.Clear();
        _unopened.Clear();
    }

    private int Add(BeaconRecord beacon)
    {
        beacon.FirstTimeNs = beacon.LastTimeNs = CapturedFrame.NoTime;
        _beacons.Add(beacon);
        return _beacons.Count - 1;
    }

    private int AddSecure(ReadOnlySpan<byte> octets)
    {
        if (!SecureNetworkBeacon.TryRead(octets, out SecureNetworkBeacon beacon, out _))
            return -1;
        int subnet = Authenticate(beacon);
        bool known = keys.SubnetsWith(beacon.NetworkId).Count > 0;
        return Add(new BeaconRecord
        {
            Kind = BeaconKind.Secure, NetworkId = beacon.NetworkId.ToString("x16", CultureInfo.InvariantCulture), Subnet = subnet, IvIndex = beacon.IvIndex,
            KeyRefresh = beacon.KeyRefresh, IvUpdate = beacon.IvUpdate, Authenticated = subnet >= 0 ? true : known ? false : null,
        });
    }

    private int AddUnprovisioned(ReadOnlySpan<byte> octets) =>
        !UnprovisionedDeviceBeacon.TryRead(octets, out UnprovisionedDeviceBeacon beacon, out _) ? -1 : Add(new BeaconRecord
        {
            Kind = BeaconKind.Unprovisioned, DeviceUuid = new Guid(beacon.DeviceUuid, bigEndian: true), OobInformation = beacon.OobInformation, UriHash = beacon.UriHash,
        });

    private int FindPrivate(ReadOnlySpan<byte> octets, long timeNs, ulong advertiser)
    {
        if (TryOpen(octets, out int subnet, out BeaconFlags flags, out uint ivIndex))
        {
            var key = (subnet, (flags & BeaconFlags.KeyRefresh) != 0, (flags & BeaconFlags.IvUpdate) != 0, ivIndex);
            if (!_opened.TryGetValue(key, out int row))
                _opened.Add(key, row = Add(new BeaconRecord
                {
                    Kind = BeaconKind.Private, NetworkId = keys.Subnets[subnet].NetworkId.ToString("x16", CultureInfo.InvariantCulture), Subnet = subnet,
                    IvIndex = ivIndex, KeyRefresh = key.Item2, IvUpdate = key.Item3, Authenticated = true,
                }));
            return row;
        }
        if (!PrivateBeacon.TryRead(octets, out _, out _))
            return -1;
        var unopened = (advertiser, timeNs == CapturedFrame.NoTime ? 0 : timeNs / NsADay);
        if (!_unopened.TryGetValue(unopened, out int unknown))
            _unopened.Add(unopened, unknown = Add(new BeaconRecord { Kind = BeaconKind.Private }));
        return unknown;
    }

    private int Authenticate(SecureNetworkBeacon beacon)
    {
        foreach (int row in keys.SubnetsWith(beacon.NetworkId))
            if (beacon.Authenticate(keys.Subnets[row].Material.BeaconKey))
                return row;
        return -1;
    }

    private bool TryOpen(ReadOnlySpan<byte> octets, out int subnet, out BeaconFlags flags, out uint ivIndex)
    {
        flags = 0;
        ivIndex = 0;
        subnet = -1;
        if (!PrivateBeacon.TryRead(octets, out PrivateBeacon beacon, out _))
            return false;
        for (subnet = 0; subnet < keys.Subnets.Count; subnet++)
            if (beacon.TryOpen(keys.Subnets[subnet].Material.PrivateBeaconKey, out flags, out ivIndex))
                return true;
        subnet = -1;
        return false;
    }

    /// <summary>
    /// A beacon tells the index in use, or while an update is in progress the one that is coming (§3.10.3.1): PDUs then still use the one before,
    /// which the IVI bit picks. The highest authenticated index counts; one index holds for all subnets of the network (§3.11.5).
    /// </summary>
    private void Learn(int row, uint ivIndex)
    {
        Subnet subnet = keys.Subnets[row];
        if (subnet.IvIndexOrigin == IvIndexOrigin.Beacon && subnet.IvIndex >= ivIndex)
            return;
        subnet.IvIndex = ivIndex;
        subnet.IvIndexOrigin = IvIndexOrigin.Beacon;
    }
}
