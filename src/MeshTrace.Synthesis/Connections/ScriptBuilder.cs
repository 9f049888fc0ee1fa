using MeshTrace.Protocol.Att;
using MeshTrace.Protocol.Proxy;

namespace MeshTrace.Synthesis.Connections;

/// <summary>Writes the script of one connection: what a phone's stack does with a mesh service (Mesh Protocol 1.1 §7.1, §7.2).</summary>
internal sealed class ScriptBuilder
{
    private const ushort FirstHandle = 0x0010, DataInHandle = 0x0012, DataOutHandle = 0x0014, ConfigurationHandle = 0x0015, LastHandle = 0x0015;
    private const byte WriteWithoutResponse = 0x04, Notify = 0x10;
    private readonly ConnectionScript _script;
    private readonly ushort _service, _dataIn, _dataOut;
    private readonly byte[] _buffer = new byte[600];
    private int _mtu = AttPdu.DefaultMtu;

    public ScriptBuilder(ConnectionScript script, ushort service)
    {
        _script = script;
        _service = service;
        (_dataIn, _dataOut) = service == MeshService.Proxy ? (AttUuid.ProxyDataIn, AttUuid.ProxyDataOut) : (AttUuid.ProvisioningDataIn, AttUuid.ProvisioningDataOut);
        TimeUs = script.BeginUs + 60_000;
    }

    public long TimeUs { get; private set; }

    public void Wait(int ms) => TimeUs += ms * 1000L;

    public void ExchangeMtu(ushort client, ushort server)
    {
        Add(true, AttPdu.WriteMtu(_buffer, AttOpcode.ExchangeMtuReq, client));
        Add(false, AttPdu.WriteMtu(_buffer, AttOpcode.ExchangeMtuRsp, server));
        _mtu = Math.Max(AttPdu.DefaultMtu, (int)Math.Min(client, server));
    }

    /// <summary>Primary services, then the characteristics and descriptors of the mesh service.</summary>
    public void Discover()
    {
        Add(true, AttRange.Write(_buffer, AttOpcode.ReadByGroupTypeReq, 0x0001, 0xFFFF, AttUuid.PrimaryService));
        Span<byte> uuid = stackalloc byte[2], characteristic = stackalloc byte[5];
        int at = AttAnswer.WriteHeader(_buffer, AttOpcode.ReadByGroupTypeRsp, 6);
        AttUuid.Write(uuid, 0x1800);
        at += AttAnswer.WriteEntry(_buffer.AsSpan(at), AttOpcode.ReadByGroupTypeRsp, 0x0001, 0x0007, uuid);
        AttUuid.Write(uuid, _service);
        at += AttAnswer.WriteEntry(_buffer.AsSpan(at), AttOpcode.ReadByGroupTypeRsp, FirstHandle, LastHandle, uuid);
        Add(false, at);

        Add(true, AttRange.Write(_buffer, AttOpcode.ReadByTypeReq, FirstHandle, LastHandle, AttUuid.Characteristic));
        at = AttAnswer.WriteHeader(_buffer, AttOpcode.ReadByTypeRsp, 7);
        AttAnswer.WriteCharacteristic(characteristic, WriteWithoutResponse, DataInHandle, _dataIn);
        at += AttAnswer.WriteEntry(_buffer.AsSpan(at), AttOpcode.ReadByTypeRsp, FirstHandle + 1, 0, characteristic);
        AttAnswer.WriteCharacteristic(characteristic, Notify, DataOutHandle, _dataOut);
        at += AttAnswer.WriteEntry(_buffer.AsSpan(at), AttOpcode.ReadByTypeRsp, FirstHandle + 3, 0, characteristic);
        Add(false, at);

        Add(true, AttRange.Write(_buffer, AttOpcode.FindInformationReq, ConfigurationHandle, LastHandle, 0));
        AttUuid.Write(uuid, AttUuid.ClientCharacteristicConfiguration);
        at = AttAnswer.WriteHeader(_buffer, AttOpcode.FindInformationRsp, 4);
        at += AttAnswer.WriteEntry(_buffer.AsSpan(at), AttOpcode.FindInformationRsp, ConfigurationHandle, 0, uuid);
        Add(false, at);
    }

    public void EnableNotifications()
    {
        Add(true, AttPdu.WriteValue(_buffer, AttOpcode.WriteReq, ConfigurationHandle, [0x01, 0x00]));
        Add(false, AttPdu.Write(_buffer, AttOpcode.WriteRsp, []));
    }

    /// <summary>A message of the proxy protocol in one direction, in as many values as the ATT_MTU asks for.</summary>
    public void Send(bool fromClient, ProxyMessageType type, ReadOnlySpan<byte> message)
    {
        var segments = new ProxySegmenter(type, message, _mtu);
        byte[] value = new byte[AttPdu.LongestValue];
        while (segments.TryWriteNext(value, out int length))
            Add(fromClient, AttPdu.WriteValue(_buffer, fromClient ? AttOpcode.WriteCmd : AttOpcode.HandleValueNtf, fromClient ? DataInHandle : DataOutHandle, value.AsSpan(0, length)));
    }

    /// <summary>Closes the connection, some time after the last PDU.</summary>
    public void Finish() => _script.EndUs = TimeUs + 200_000;

    private void Add(bool fromClient, int length)
    {
        _script.Pdus.Add(new ScriptedPdu(TimeUs, fromClient, _buffer[..length]));
        TimeUs += 45_000;
    }
}
