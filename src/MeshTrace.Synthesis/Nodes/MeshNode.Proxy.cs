using System.Buffers.Binary;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Beacons;
using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Proxy;
using MeshTrace.Synthesis.Nodes.Proxy;
using MeshTrace.Synthesis.Radio;
using MeshTrace.Synthesis.Truth;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>The GATT bearer (Mesh Protocol 1.1 §3.4.6.3, §6): a phone at the one end, the node that it is connected to at the other.</summary>
internal sealed partial class MeshNode
{
    /// <summary>As a proxy: the connections of phones, their services found.</summary>
    private readonly List<ProxyLink> _phones = [];

    /// <summary>As a phone: the connection to its proxy.</summary>
    private ProxyLink? _link;
    private HostLog? _log;

    /// <summary>As a phone: what it sends reaches the proxy.</summary>
    internal bool IsConnected => _link is { IsOpen: true };

    /// <summary>It answers who wants to connect.</summary>
    internal bool ServesPhones => Plan.Proxy == 1 && Station.On && Provisioned;
    internal (ulong Address, bool IsRandom) DeviceAddress => _bearer.Reachable;

    /// <summary>Service data by which a phone finds it: the network ID (§7.2.2.2.2).</summary>
    internal byte[] ProxyServiceData
    {
        get
        {
            byte[] service = new byte[11];
            MeshService.Write(service, MeshService.Proxy);
            BinaryPrimitives.WriteUInt64BigEndian(service.AsSpan(3), _keys.Sending(Plan.NetKeys[0]).Material.NetworkId);
            return service;
        }
    }

    /// <summary>The node is a phone that keeps this log.</summary>
    internal void KeepLog(HostLog log) => _log = log;

    private void StartPhone()
    {
        if (Plan.Phone is { } plan && _log is { } log)
            _world.Time.At(plan.FromUs, () => _link = ProxyLink.Open(_world, this, _world.Named(plan.Proxy), log, _random.Fork("phone")));
    }

    internal void Serve(ProxyLink phone) => _phones.Add(phone);

    internal void Leave(ProxyLink phone) => _phones.Remove(phone);

    /// <summary>The beacon that a proxy gives to a phone as soon as it listens (§6.7), and what the beacon tells.</summary>
    internal (byte[] Beacon, BeaconContent Content) BeaconForPhone()
    {
        SubnetKeys keys = _keys.Sending(Plan.NetKeys[0]);
        var content = new BeaconContent(keys, IvIndex, _ivUpdateInProgress, _keys.PhaseOf(keys.Index) == 2);
        byte[] beacon = new byte[SecureNetworkBeacon.Length];
        BeaconFlags flags = (content.IvUpdate ? BeaconFlags.IvUpdate : 0) | (content.KeyRefresh ? BeaconFlags.KeyRefresh : 0);
        SecureNetworkBeacon.Write(beacon, flags, keys.Material.NetworkId, IvIndex, keys.Material.BeaconKey);
        return (beacon, content);
    }

    internal void TakeBeacon(BeaconContent told) => HearBeacon(told);

    /// <summary>A proxy configuration message (§6.6): CTL 1, TTL 0, DST unassigned, secured with the proxy nonce, with a SEQ of the primary element.</summary>
    internal byte[] SecureProxyConfiguration(ReadOnlySpan<byte> message)
    {
        Span<byte> clear = stackalloc byte[NetworkSecurity.LongestPdu];
        byte[] pdu = new byte[NetworkSecurity.LongestPdu];
        var credentials = _keys.Sending(Plan.NetKeys[0]).Material.Flooding;
        int length = NetworkSecurity.Write(clear, TransmitIvIndex, credentials.Nid, ctl: true, 0, NextSequence(Unicast), Unicast, MeshAddress.Unassigned, message);
        return pdu[..NetworkSecurity.EncryptProxyConfiguration(clear[..length], credentials, TransmitIvIndex, pdu)];
    }

    /// <summary>A PDU that came over a connection: at the proxy from its phone, or at the phone from its proxy.</summary>
    internal void ReceiveOverGatt(MeshPdu pdu, byte ttl, ProxyLink link) => Receive(pdu, ttl, ReferenceEquals(link, _link) ? null : link);

    /// <summary>Gives a PDU to the phones whose filters let it through, but not back to the one that it came from.</summary>
    private void Notify(MeshPdu pdu, byte ttl, ProxyLink? cameFrom)
    {
        if (pdu.Bond is not null)
            return;
        foreach (ProxyLink phone in _phones)
        {
            if (phone != cameFrom)
                phone.Notify(pdu, ttl);
        }
    }

    /// <summary>
    /// What a phone wrote goes on to all interfaces with its TTL lowered (§3.4.6.3). It is not tagged as a relay: Network Transmit says how often it is sent.
    /// </summary>
    private void PutOnAir(MeshPdu pdu, byte ttl, ProxyLink phone)
    {
        if (ttl < 2)
            pdu.Truth.StoppedByTtl.Add(this);
        else if (Plan.Habits.KeepsFromAir)
        {
            pdu.Truth.HeldByProxy = true;
            phone.Truth.KeptFromAir++;
        }
        else
        {
            phone.Truth.PutOnAir++;
            Transmit(pdu, (byte)(ttl - 1), Plan.NetworkTransmit, 500 + _random.Below((Plan.RelayDelayMs * 1000L) + 1));
        }
    }
}
