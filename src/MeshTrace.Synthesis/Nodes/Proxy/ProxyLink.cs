using MeshTrace.Protocol;
using MeshTrace.Protocol.Proxy;
using MeshTrace.Synthesis.Connections;
using MeshTrace.Synthesis.Radio;
using MeshTrace.Synthesis.Truth;

namespace MeshTrace.Synthesis.Nodes.Proxy;

/// <summary>
/// The connection of a phone to its proxy (Mesh Protocol 1.1 §6, §7.2): discovery, the filter, and Network PDUs in both directions. The link layer itself is not
/// simulated: nothing is lost on it, and the data channels are not heard by receivers.
/// </summary>
internal sealed class ProxyLink
{
    private const int IntervalUs = 30_000, BetweenPdusUs = 8000, ProxyMtu = 69;

    /// <summary>HCI error codes (Core Specification, volume 1 part F).</summary>
    private const byte ConnectionTimeout = 0x08, TerminatedByLocalHost = 0x16;

    private readonly MeshWorld _world;
    private readonly MeshNode _phone, _proxy;
    private readonly HostLog _log;
    private readonly Randomness _random;
    private readonly ConnectionScript _script;
    private readonly ScriptBuilder _builder;
    private readonly Queue<(byte[] Message, Action Apply)> _toAsk = [];
    private long _writtenUs, _arrivedUs, _notifiedUs;

    private ProxyLink(MeshWorld world, MeshNode phone, MeshNode proxy, HostLog log, Randomness random, ConnectionScript script)
    {
        (_world, _phone, _proxy, _log, _random, _script) = (world, phone, proxy, log, random, script);
        _builder = new ScriptBuilder(script, MeshService.Proxy);
        Truth = new ProxyTruth { Phone = phone, Proxy = proxy, StartUs = script.BeginUs };
    }

    /// <summary>True from the end of the discovery until the connection ends.</summary>
    internal bool IsOpen { get; private set; }
    internal ProxyTruth Truth { get; }
    private long Now => _world.Time.NowUs;

    /// <summary>The phone finds its proxy and connects. Null: there is none.</summary>
    internal static ProxyLink? Open(MeshWorld world, MeshNode phone, MeshNode proxy, HostLog log, Randomness random)
    {
        if (!proxy.ServesPhones)
            return null;
        var (address, isRandom) = proxy.DeviceAddress;
        byte[] serviceData = proxy.ProxyServiceData;
        log.Found(world.Time.NowUs, address, isRandom, serviceData);
        var script = new ConnectionScript { Central = 0, Peripheral = address, ServiceData = serviceData, BeginUs = world.Time.NowUs + 120_000 };
        var link = new ProxyLink(world, phone, proxy, log, random, script);
        world.Truth.ProxyConnections.Add(link.Truth);
        world.Time.At(script.BeginUs, () => log.Connected(script.BeginUs, address, isRandom));
        link.Discover();
        world.Time.At(phone.Plan.Phone!.UntilUs, () => link.End("closed", TerminatedByLocalHost));
        return link;
    }

    /// <summary>The phone writes a Network PDU.</summary>
    internal void Write(MeshPdu pdu, byte ttl)
    {
        if (!IsOpen)
            return;
        Truth.Written++;
        long us = Carry(true, ProxyMessageType.NetworkPdu, pdu.AdvDataAt(ttl).AsSpan(2), () =>
        {
            Hold(pdu.Src);      // §6.4: the SRC of what a client sends goes into its accept list
            _proxy.ReceiveOverGatt(pdu, ttl, this);
        });
        pdu.Truth.OverGatt.Add(new GattTruth(us, _phone, true, ttl));
    }

    /// <summary>The proxy has a PDU for its phones: it goes on if the filter lets it through.</summary>
    internal void Notify(MeshPdu pdu, byte ttl)
    {
        if (!IsOpen)
            return;
        if (!Truth.Held.Contains(pdu.Dst.Value))
        {
            MeshNode.PressOf(pdu)?.Note(_phone.Unicast, Reach.ProxyFilter);
            Truth.Blocked += _phone.Subscriptions().Contains(pdu.Dst) ? 1 : 0;
            return;
        }
        Truth.Notified++;
        long us = Carry(false, ProxyMessageType.NetworkPdu, pdu.AdvDataAt(ttl).AsSpan(2), () => _phone.ReceiveOverGatt(pdu, ttl, this));
        pdu.Truth.OverGatt.Add(new GattTruth(us, _phone, false, ttl));
    }

    private void Discover()
    {
        _builder.ExchangeMtu(_phone.Plan.Phone!.Mtu, ProxyMtu);
        _builder.Discover();
        _builder.EnableNotifications();
        foreach (ScriptedPdu pdu in _script.Pdus)
            _world.Time.At(pdu.TimeUs, () => _log.Carried(pdu.TimeUs, pdu.FromClient, pdu.AttPdu));
        _world.Time.At(_builder.TimeUs, Begin);
    }

    private void Begin()
    {
        if (Truth.EndUs is not null)
            return;
        IsOpen = true;
        _proxy.Serve(this);
        var (beacon, content) = _proxy.BeaconForPhone();
        Carry(false, ProxyMessageType.MeshBeacon, beacon, () => _phone.TakeBeacon(content));
        AskForFilter();
        Ask();
    }

    /// <summary>The filter that the phone wants: an accept list with its own addresses and its groups.</summary>
    private void AskForFilter()
    {
        byte[] message = new byte[16];
        int length = ProxyConfigurationWriter.WriteSetFilterType(message, ProxyFilterType.AcceptList);
        _toAsk.Enqueue((message[..length], Truth.Held.Clear));
        var wanted = Enumerable.Range(0, _phone.Plan.Elements.Count).Select(_phone.ElementAddress)
            .Concat(_phone.Subscriptions().Where(group => !_phone.Plan.Phone!.ForgetsGroups.Contains(group)));
        foreach (MeshAddress[] some in wanted.Chunk(ProxyConfigurationWriter.MostAddresses))
        {
            length = ProxyConfigurationWriter.WriteAddresses(message, add: true, some);
            _toAsk.Enqueue((message[..length], () =>
            {
                foreach (MeshAddress address in some)
                {
                    Truth.Asked.Add(address.Value);
                    Hold(address);
                }
            }));
        }
    }

    /// <summary>One message of the phone, and the Filter Status that answers it; then the next.</summary>
    private void Ask()
    {
        if (!_toAsk.TryDequeue(out var ask))
            return;
        Carry(true, ProxyMessageType.ProxyConfiguration, _phone.SecureProxyConfiguration(ask.Message), () =>
        {
            ask.Apply();
            byte[] status = new byte[16];
            int length = ProxyConfigurationWriter.WriteFilterStatus(status, ProxyFilterType.AcceptList, (ushort)Truth.Held.Count);
            Carry(false, ProxyMessageType.ProxyConfiguration, _proxy.SecureProxyConfiguration(status.AsSpan(0, length)), Ask);
        });
    }

    private void Hold(MeshAddress address)
    {
        if (Truth.Held.Count < (_proxy.Plan.Habits.ProxyFilterRoom ?? int.MaxValue))
            Truth.Held.Add(address.Value);
    }

    /// <summary>
    /// Hands a message to the other side, in as many values as the ATT_MTU asks for: at the next connection events, in order. Returns when the phone's host
    /// logs its first part.
    /// </summary>
    private long Carry(bool fromPhone, ProxyMessageType type, ReadOnlySpan<byte> message, Action arrived)
    {
        _script.Pdus.Clear();
        _builder.Send(fromPhone, type, message);
        long first = fromPhone ? Math.Max(Now + 500, _writtenUs) : Math.Max(Now + _random.Between(BetweenPdusUs, IntervalUs), _notifiedUs), us = first;
        foreach (ScriptedPdu pdu in _script.Pdus)
        {
            long at = us;
            _world.Time.At(at, () =>
            {
                if (Truth.EndUs is null)
                    _log.Carried(at, fromPhone, pdu.AttPdu);
            });
            us += BetweenPdusUs;
        }
        long there = us - BetweenPdusUs;
        if (fromPhone)
        {
            _writtenUs = us;
            there = _arrivedUs = Math.Max(there + _random.Between(BetweenPdusUs, IntervalUs), _arrivedUs + 1);
        }
        else
            _notifiedUs = us;
        _world.Time.At(there, () =>
        {
            if (!_proxy.Station.On)
                End("lost", ConnectionTimeout);
            if (IsOpen)
                arrived();
        });
        return first;
    }

    private void End(string outcome, byte reason)
    {
        if (Truth.EndUs is not null)
            return;
        IsOpen = false;
        _proxy.Leave(this);
        (Truth.EndUs, Truth.Outcome) = (Now, outcome);
        _log.Disconnected(Now, reason);
    }
}
