using MeshTrace.Protocol;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Beacons;
using MeshTrace.Protocol.Provisioning;
using MeshTrace.Protocol.Proxy;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Synthesis.Connections;

/// <summary>How a phone's session is to go.</summary>
public sealed record PhoneSetupPlan
{
    /// <summary>Rx MTU of the phone; the nodes have 69.</summary>
    public ushort ClientMtu { get; init; } = 185;

    /// <summary>Without discovery, as phones do that know the services from before.</summary>
    public bool Discovers { get; init; } = true;

    public int Presses { get; init; } = 4;
}

/// <summary>A node that the phone sets up.</summary>
/// <param name="DeviceUuid">Its device UUID.</param>
/// <param name="Address">Device address.</param>
/// <param name="Unicast">Primary address it is given.</param>
/// <param name="PrivateKey">Private key of its side of the provisioning.</param>
/// <param name="DeviceKey">Device key that both sides derive.</param>
public sealed record SetUpNode(Guid DeviceUuid, ulong Address, ushort Unicast, byte[] PrivateKey, byte[] DeviceKey);

/// <summary>
/// The story of a phone that sets up two lamps of a small library, stairs and entrance: it provisions each over PB-GATT, configures both over the proxy
/// of the first, and switches them. What is composed is the same each time.
/// </summary>
public sealed class PhoneSetup
{
    public const ushort PhoneUnicast = 0x0001, Group = 0xC000;
    public const uint IvIndex = 0x0000_0003;
    public const ulong PhoneAddress = 0x5C0A_51B1_7E01;
    private const ushort OnOffServer = 0x1000;
    private const byte Ttl = 5, TtlAfterProxy = 4;

    private static readonly byte[] NetKeyOctets = Convert.FromHexString("6e3f5d0b2a91487cb08e15d7c4f29a63"), AppKeyOctets = Convert.FromHexString("93b7e2015c6d4af8a1d03e5b7f8c2649");

    private readonly PhoneSetupPlan _plan;
    private readonly ProxyTalk _talk = new(NetKeyOctets, AppKeyOctets, IvIndex);
    private readonly List<ConnectionScript> _connections = [];
    private readonly List<SetUpNode> _nodes = [];
    private long _us;
    private byte _tid;

    private PhoneSetup(PhoneSetupPlan plan) => _plan = plan;

    public static ReadOnlyMemory<byte> NetKey => NetKeyOctets;
    public static ReadOnlyMemory<byte> AppKey => AppKeyOctets;

    /// <summary>The private key of the phone: printed in Mesh Protocol 1.1 §8.7, no network's.</summary>
    public ReadOnlyMemory<byte> ProvisionerPrivateKey { get; } = Convert.FromHexString("06a516693c9aa31a6084545d0c5db641b48572b97203ddffb7ac73f7d0457663");
    public IReadOnlyList<SetUpNode> Nodes => _nodes;
    public IReadOnlyList<ConnectionScript> Connections => _connections;

    /// <summary>Config messages that the phone sent, each answered.</summary>
    public int ConfigMessages { get; private set; }

    public static PhoneSetup Compose(PhoneSetupPlan? plan = null)
    {
        var setup = new PhoneSetup(plan ?? new PhoneSetupPlan());
        setup.Run();
        return setup;
    }

    private void Run()
    {
        (Guid Uuid, ulong Address, string Key)[] devices =
        [
            (new Guid("5b1f6a0e-8c42-4d17-9e30-7a64c1d2f501"), 0xC3B7_0A4E_1101, "529aa0670d72cd6497502ed473502b037e8803b5c60829a5a3caa219505530ba"),
            (new Guid("5b1f6a0e-8c42-4d17-9e30-7a64c1d2f502"), 0xC3B7_0A4E_1102, "0f1e2d3c4b5a69788796a5b4c3d2e1f00f1e2d3c4b5a69788796a5b4c3d2e1f0"),
        ];
        for (int i = 0; i < devices.Length; i++)
            Provision(devices[i].Uuid, devices[i].Address, Convert.FromHexString(devices[i].Key), (ushort)(0x0010 + (2 * i)));
        UseProxy();
    }

    private ScriptBuilder Connect(ulong peripheral, ushort service, byte[] serviceData, out ConnectionScript script)
    {
        script = new ConnectionScript { Central = PhoneAddress, Peripheral = peripheral, ServiceData = serviceData, BeginUs = _us + 800_000 };
        _connections.Add(script);
        var talk = new ScriptBuilder(script, service);
        talk.ExchangeMtu(_plan.ClientMtu, 69);
        if (_plan.Discovers)
            talk.Discover();
        talk.EnableNotifications();
        return talk;
    }

    private void Finish(ScriptBuilder talk, ConnectionScript script)
    {
        talk.Finish();
        _us = script.EndUs;
    }

    private void Provision(Guid uuid, ulong address, byte[] devicePrivate, ushort unicast)
    {
        byte[] advertised = new byte[2 + ProvisioningServiceData.Length], deviceUuid = new byte[16];
        uuid.TryWriteBytes(deviceUuid, bigEndian: true, out _);
        MeshService.Write(advertised, MeshService.Provisioning);
        ProvisioningServiceData.Write(advertised.AsSpan(2), deviceUuid, 0);
        ScriptBuilder talk = Connect(address, MeshService.Provisioning, advertised, out ConnectionScript script);

        byte[] invite = [0x05], capabilities = Convert.FromHexString("0100010000000000000000"), start = [0, 0, 0, 0, 0];
        byte[] phone = PublicKeyOf(ProvisionerPrivateKey.Span), device = PublicKeyOf(devicePrivate), secret = new byte[EllipticCurve.SecretLength];
        if (!EllipticCurve.TryGetSharedSecret(devicePrivate, phone, secret))
            throw new InvalidOperationException("the private keys of the story are those of the curve");
        var security = new ProvisioningSecurity(ProvisioningAlgorithm.CmacAes128, secret, [.. invite, .. capabilities, .. start, .. phone, .. device]);
        byte[] phoneRandom = Random(unicast, 1), deviceRandom = Random(unicast, 2), auth = new byte[16];
        byte[] phoneConfirms = new byte[16], deviceConfirms = new byte[16], salt = new byte[16], deviceKey = new byte[16];
        byte[] data = new byte[ProvisioningSecurity.DataLength], encrypted = new byte[ProvisioningSecurity.DataLength + ProvisioningSecurity.DataMicLength];
        security.ComputeConfirmation(phoneRandom, auth, phoneConfirms);
        security.ComputeConfirmation(deviceRandom, auth, deviceConfirms);
        security.ComputeProvisioningSalt(phoneRandom, deviceRandom, salt);
        security.ComputeDeviceKey(salt, deviceKey);
        PlainProvisioningData.Write(data, NetKeyOctets, 0, 0, IvIndex, new MeshAddress(unicast));
        security.EncryptData(salt, data, encrypted);

        Say(true, ProvisioningPduType.Invite, invite);
        Say(false, ProvisioningPduType.Capabilities, capabilities);
        Say(true, ProvisioningPduType.Start, start);
        Say(true, ProvisioningPduType.PublicKey, phone);
        Say(false, ProvisioningPduType.PublicKey, device);
        Say(true, ProvisioningPduType.Confirmation, phoneConfirms);
        Say(false, ProvisioningPduType.Confirmation, deviceConfirms);
        Say(true, ProvisioningPduType.Random, phoneRandom);
        Say(false, ProvisioningPduType.Random, deviceRandom);
        Say(true, ProvisioningPduType.Data, encrypted);
        Say(false, ProvisioningPduType.Complete, []);
        Finish(talk, script);
        _nodes.Add(new SetUpNode(uuid, address, unicast, devicePrivate, deviceKey));

        void Say(bool fromClient, ProvisioningPduType type, ReadOnlySpan<byte> parameters)
        {
            byte[] pdu = new byte[ProvisioningPdu.HeaderLength + parameters.Length];
            ProvisioningPdu.Write(pdu, type, parameters);
            talk.Send(fromClient, ProxyMessageType.ProvisioningPdu, pdu);
        }
    }

    private void UseProxy()
    {
        byte[] advertised = new byte[2 + 9];
        MeshService.Write(advertised, MeshService.Proxy);
        advertised[2] = 0;      // Network ID (Mesh Protocol 1.1 §7.2.2.2.1)
        System.Buffers.Binary.BinaryPrimitives.WriteUInt64BigEndian(advertised.AsSpan(3), _talk.Net.NetworkId);
        ScriptBuilder talk = Connect(_nodes[0].Address, MeshService.Proxy, advertised, out ConnectionScript script);
        byte[] beacon = new byte[32], message = new byte[12];
        int length = SecureNetworkBeacon.Write(beacon, 0, _talk.Net.NetworkId, IvIndex, _talk.Net.BeaconKey);
        talk.Send(false, ProxyMessageType.MeshBeacon, beacon.AsSpan(0, length));
        Configure(true, PhoneUnicast, message.AsSpan(0, ProxyConfigurationWriter.WriteSetFilterType(message, ProxyFilterType.AcceptList)));
        Configure(false, _nodes[0].Unicast, message.AsSpan(0, ProxyConfigurationWriter.WriteFilterStatus(message, ProxyFilterType.AcceptList, 0)));
        Configure(true, PhoneUnicast, message.AsSpan(0, ProxyConfigurationWriter.WriteAddresses(message, add: true, [new MeshAddress(PhoneUnicast), new MeshAddress(Group)])));
        Configure(false, _nodes[0].Unicast, message.AsSpan(0, ProxyConfigurationWriter.WriteFilterStatus(message, ProxyFilterType.AcceptList, 2)));
        foreach (SetUpNode node in _nodes)
            ConfigureNode(talk, node);
        for (int press = 0; press < _plan.Presses; press++)
            Press(talk, on: press % 2 == 0);
        Finish(talk, script);

        void Configure(bool fromClient, ushort src, ReadOnlySpan<byte> configuration) =>
            talk.Send(fromClient, ProxyMessageType.ProxyConfiguration, _talk.Configuration(src, configuration));
    }

    private void ConfigureNode(ScriptBuilder talk, SetUpNode node)
    {
        byte[] keyIndexes = [0, 0, 0], element = Little(node.Unicast), group = Little(Group), model = Little(OnOffServer);
        byte[] composition = [0x02, 0x00, .. Little(0xFFFF), .. Little(1), .. Little(1), .. Little(32), .. Little(0x0003), .. Little(0x0100), 3, 0, .. Little(0x0000), .. Little(0x0002), .. model];
        Ask([0x80, 0x08, 0x00], composition);
        Ask([0x00, .. keyIndexes, .. AppKeyOctets], [0x80, 0x03, 0, .. keyIndexes]);
        Ask([0x80, 0x3D, .. element, 0, 0, .. model], [0x80, 0x3E, 0, .. element, 0, 0, .. model]);
        Ask([0x80, 0x1B, .. element, .. group, .. model], [0x80, 0x1F, 0, .. element, .. group, .. model]);

        void Ask(byte[] request, byte[] status)
        {
            ConfigMessages++;
            byte ttl = node == _nodes[0] ? (byte)0 : Ttl;
            Exchange(talk, PhoneUnicast, node.Unicast, ttl, request, node.DeviceKey, fromClient: true);
            talk.Wait(30);
            Exchange(talk, node.Unicast, PhoneUnicast, TtlAfterProxy, status, node.DeviceKey, fromClient: false);
            talk.Wait(100);
        }
    }

    private void Press(ScriptBuilder talk, bool on)
    {
        byte[] set = AccessWriter.Write("Generic OnOff Set", ("OnOff", on ? 1 : 0), ("TID", ++_tid));
        Exchange(talk, PhoneUnicast, Group, Ttl, set, null, fromClient: true);
        foreach (SetUpNode node in _nodes)
            Exchange(talk, node.Unicast, PhoneUnicast, TtlAfterProxy, AccessWriter.Write("Generic OnOff Status", ("PresentOnOff", on ? 1 : 0)), null, fromClient: false);
        talk.Wait(3000);
    }

    /// <summary>A message, and where it is segmented the acknowledgment that comes back.</summary>
    private void Exchange(ScriptBuilder talk, ushort src, ushort dst, byte ttl, byte[] payload, byte[]? deviceKey, bool fromClient)
    {
        List<byte[]> pdus = _talk.Access(src, dst, ttl, payload, deviceKey, out ushort seqZero);
        foreach (byte[] pdu in pdus)
            talk.Send(fromClient, ProxyMessageType.NetworkPdu, pdu);
        if (pdus.Count > 1)
            talk.Send(!fromClient, ProxyMessageType.NetworkPdu, _talk.Acknowledge(dst, src, Ttl, seqZero, pdus.Count));
    }

    private static byte[] PublicKeyOf(ReadOnlySpan<byte> privateKey)
    {
        byte[] key = new byte[EllipticCurve.PublicKeyLength];
        return EllipticCurve.TryGetPublicKey(privateKey, key) ? key : throw new InvalidOperationException("the private keys of the story are those of the curve");
    }

    private static byte[] Random(ushort unicast, byte side)
    {
        byte[] random = new byte[16];
        for (int i = 0; i < random.Length; i++)
            random[i] = (byte)((unicast * 31) + (side * 97) + (i * 13));
        return random;
    }

    private static byte[] Little(ushort value) => [(byte)(value & 0xFF), (byte)(value >> 8)];
}
