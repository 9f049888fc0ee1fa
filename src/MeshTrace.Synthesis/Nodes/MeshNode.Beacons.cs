using System.Buffers.Binary;
using MeshTrace.Protocol.Beacons;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.LowerTransport;
using MeshTrace.Synthesis.Radio;
using MeshTrace.Synthesis.Truth;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>What a node sends by itself: beacons, the proxy's advertising, heartbeats.</summary>
internal sealed partial class MeshNode
{
    internal const string SecureBeaconKind = "secure", PrivateBeaconKind = "private", UnprovisionedBeaconKind = "unprovisioned", ProxyKind = "proxy";

    /// <summary>Observation period: twice the typical interval of 10 s (Mesh Protocol 1.1 §3.10.3.1).</summary>
    private const long ObservationUs = 20_000_000;

    private static readonly Repetition Once = new(1, 10);
    private int _beaconsObserved;

    private readonly byte[] _privateRandom = new byte[13];
    private long _privateRandomUntilUs = long.MinValue;
    private Randomness? _privateRandomness;

    /// <summary>Starts everything that runs on its own clock.</summary>
    internal void SwitchOn()
    {
        if (Plan.ProvisionedAtUs > 0 || _outside || Plan.Habits.KeepsBeaconing)
            _world.Time.After(_random.Below(2_000_000), SendUnprovisionedBeacon);
        if (!_outside)
            StartOwnClocks(Plan.ProvisionedAtUs);
        StartFriendship();
        StartPhone();
    }

    /// <summary>Everything that a node of a network sends by itself.</summary>
    private void StartOwnClocks(long fromUs)
    {
        if (Plan.SecureNetworkBeacon || Plan.PrivateBeacon)
            At(fromUs + _random.Below(10_000_000), SendNetworkBeacons);
        if (Plan.Proxy == 1)
            At(fromUs + _random.Below(Plan.ProxyIntervalUs), AdvertiseProxy);
        for (int element = 0; element < _elements.Count; element++)
        {
            foreach (var model in _elements[element].Models.Where(model =>
                model.Publish is { PeriodMs: > 0 } && Request.KindOf(model.Id) is not null))
                PublishPeriodically(element, model);
        }
        if (Plan.Heartbeat is { } heartbeat)
            At(fromUs + _random.Below(heartbeat.PeriodS * 1_000_000), SendHeartbeat);
    }

    private void SendUnprovisionedBeacon()
    {
        if (Provisioned && !Plan.Habits.KeepsBeaconing)
            return;
        if (!IsBeingProvisioned)
        {
            byte[] beacon = new byte[UnprovisionedDeviceBeacon.LengthWithoutUriHash];
            Span<byte> uuid = stackalloc byte[16];
            Plan.Uuid.TryWriteBytes(uuid, bigEndian: true, out _);
            UnprovisionedDeviceBeacon.Write(beacon, uuid, 0);
            SendBeacon(UnprovisionedBeaconKind, AdType.MeshBeacon, beacon);
        }
        // the device chooses the time (§5.4.2.1)
        _world.Time.After(2_000_000 + _random.Below(Advertiser.MostAdvDelayUs), SendUnprovisionedBeacon);
    }

    private void SendNetworkBeacons()
    {
        foreach (int index in Plan.NetKeys)
        {
            SubnetKeys keys = _keys.Sending(index);
            var content = new BeaconContent(keys, IvIndex, _ivUpdateInProgress, _keys.PhaseOf(index) == 2);
            var flags = (content.IvUpdate ? BeaconFlags.IvUpdate : 0) | (content.KeyRefresh ? BeaconFlags.KeyRefresh : 0);
            if (Plan.SecureNetworkBeacon)
            {
                byte[] beacon = new byte[SecureNetworkBeacon.Length];
                SecureNetworkBeacon.Write(beacon, flags, keys.Material.NetworkId, IvIndex, keys.Material.BeaconKey);
                SendBeacon(SecureBeaconKind, AdType.MeshBeacon, beacon, content);
            }
            if (Plan.PrivateBeacon)
                SendPrivateBeacon(content, flags);
        }
        // §3.10.3.1: observation period x (observed + 1) / expected, within 10-600 s; 2 beacons are expected in 20 s.
        long interval = Math.Clamp(ObservationUs * (_beaconsObserved + 1) / 2, 10_000_000, 600_000_000);
        _beaconsObserved /= 2;   // what was heard before fades
        After(interval + _random.Below(500_000), SendNetworkBeacons);
    }

    /// <summary>Mesh Private beacon (§3.10.4): its Random is kept for a time and then drawn anew (§4.2.44).</summary>
    private void SendPrivateBeacon(BeaconContent content, BeaconFlags flags)
    {
        if (Now >= _privateRandomUntilUs)
        {
            _privateRandomness ??= _random.Fork("private beacon");
            _privateRandomness.Fill(_privateRandom);
            _privateRandomUntilUs = Now + Plan.PrivateBeaconRandomUs;
        }
        byte[] beacon = new byte[PrivateBeacon.Length];
        PrivateBeacon.Write(beacon, _privateRandom, flags, IvIndex, content.SecuredBy.Material.PrivateBeaconKey);
        SendBeacon(PrivateBeaconKind, AdType.MeshBeacon, beacon, content);
    }

    /// <summary>A beacon of the network was heard; one under a key that the node lacks tells it nothing.</summary>
    private void HearBeacon(BeaconContent told)
    {
        if (!Provisioned || !_keys.Holds(told.SecuredBy))
            return;
        FollowKeyRefresh(told.SecuredBy, told.KeyRefresh);
        FollowIvIndex(told.IvIndex, told.IvUpdate);
    }

    private void SendBeacon(string kind, AdType type, ReadOnlySpan<byte> octets, BeaconContent? content = null)
    {
        if (!Station.On)
            return;
        byte[] advData = new byte[octets.Length + 2];
        AdStructureWriter.Write(advData, type, octets);
        var truth = _world.Truth.Beacon(kind, this, content);
        _bearer.Send(advData, Once, 0, truth, timeUs => _world.Truth.Sent(truth, new EventTruth(timeUs, Station, 0)));
    }

    /// <summary>Connectable advertising with the network ID (Mesh Protocol 1.1 §7.2.2.2.2): a phone finds its proxy by it.</summary>
    private void AdvertiseProxy()
    {
        if (Station.On)
        {
            Span<byte> service = stackalloc byte[11];
            BinaryPrimitives.WriteUInt16LittleEndian(service, 0x1828);
            service[2] = 0x00;   // identification type: network ID
            BinaryPrimitives.WriteUInt64BigEndian(service[3..], _keys.Sending(Plan.NetKeys[0]).Material.NetworkId);
            byte[] advData = new byte[3 + 4 + 13];
            int at = AdStructureWriter.Write(advData, AdType.Flags, [0x06]);
            at += AdStructureWriter.Write(advData.AsSpan(at), AdType.CompleteServiceUuids16, [0x28, 0x18]);
            AdStructureWriter.Write(advData.AsSpan(at), AdType.ServiceData16, service);
            var truth = _world.Truth.Beacon(ProxyKind, this);
            _bearer.Send(advData, Once, 0, truth, timeUs =>
                _world.Truth.Sent(truth, new EventTruth(timeUs, Station, 0)), AdvertisingPduType.AdvInd);
        }
        After(Plan.ProxyIntervalUs + _random.Below(Advertiser.MostAdvDelayUs), AdvertiseProxy);
    }

    /// <summary>Heartbeat (§3.6.5.10): InitTTL and the features in use, from the primary element.</summary>
    private void SendHeartbeat()
    {
        var plan = Plan.Heartbeat!;
        Span<byte> parameters = stackalloc byte[3], transport = stackalloc byte[4];
        parameters[0] = (byte)plan.Ttl;
        int features = (Plan.Relay == 1 ? 1 : 0) | (Plan.Proxy == 1 ? 2 : 0) | (Plan.Friend == 1 ? 4 : 0) | (Plan.LowPower == 1 ? 8 : 0);
        BinaryPrimitives.WriteUInt16BigEndian(parameters[1..], (ushort)features);
        int length = UnsegmentedControl.Write(transport, 0x0A, parameters);
        if (Station.On && !Plan.Habits.HeartbeatCuts.Exists(cut => Now >= cut.FromUs && Now < cut.UntilUs))
        {
            var subnet = _world.Keys.Subnet(Plan.NetKeys[0]);
            var pdu = MakePdu(subnet, true, NextSequence(Unicast), Unicast, plan.Destination, transport[..length].ToArray(), (byte)plan.Ttl,
                new ControlContent(0x0A), "Heartbeat", null, null, null);
            Originate(pdu, (byte)plan.Ttl);
        }
        After(plan.PeriodS * 1_000_000, SendHeartbeat);
    }
}
