using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol.Att;
using MeshTrace.Protocol.Proxy;

namespace MeshTrace.Analysis.Connections;

/// <summary>
/// The Attribute Protocol of one connection: both sides may be client and server. Finds the values of the mesh characteristics and hands over the
/// messages that they carry.
/// </summary>
internal sealed class AttributeSession(ConnectionRecord record, KeyRing keys, MeshMessageSink sink)
{
    /// <summary>Attributes of unknown type that are looked at: protects memory.</summary>
    private const int MostGuesses = 64;

    private readonly AttributeServer[] _servers = [new(), new()];
    private readonly Dictionary<(int Server, ushort Handle), ValueGuess> _guesses = [];
    private readonly Dictionary<(int Server, ushort Handle), ProxyAssembly> _assemblies = [];

    /// <summary>Takes one PDU.</summary>
    /// <param name="side">0 or 1: who sent it.</param>
    /// <param name="octets">The PDU.</param>
    /// <param name="frame">Row of the frame that completed it.</param>
    /// <param name="timeNs">Its time.</param>
    public void Take(int side, ReadOnlySpan<byte> octets, int frame, long timeNs)
    {
        if (!AttPdu.TryRead(octets, out AttPdu pdu, out _) || pdu.IsFromClient is not { } fromClient)
        {
            record.Counts.OtherFrames++;
            return;
        }
        record.Counts.AttributePdus++;
        int server = fromClient ? 1 - side : side;
        switch (pdu.Opcode)
        {
            case AttOpcode.ExchangeMtuReq:
                _servers[1 - server].Mtu = pdu.Mtu;
                break;
            case AttOpcode.ExchangeMtuRsp:
                _servers[server].Mtu = pdu.Mtu;
                if (_servers[1 - server].Mtu is { } asked)
                    record.Mtu = Math.Max(AttPdu.DefaultMtu, Math.Min(asked, pdu.Mtu));
                break;
            case AttOpcode.FindInformationReq or AttOpcode.FindByTypeValueReq or AttOpcode.ReadByTypeReq or AttOpcode.ReadByGroupTypeReq:
                _servers[server].Ask(in pdu);
                break;
            case AttOpcode.FindInformationRsp or AttOpcode.FindByTypeValueRsp or AttOpcode.ReadByTypeRsp or AttOpcode.ReadByGroupTypeRsp:
                _servers[server].Answer(in pdu, record.Services);
                break;
            case AttOpcode.PrepareWriteReq:
                _servers[server].Prepare(in pdu);
                break;
            case AttOpcode.ExecuteWriteReq:
                if (_servers[server].Execute(in pdu, out ushort handle, out ReadOnlySpan<byte> written))
                    TakeValue(server, handle, true, written, frame, timeNs);
                break;
            case AttOpcode.MultipleHandleValueNtf when AttAnswer.TryRead(in pdu, out AttAnswer values, out _):
                while (values.TryReadNext(out AttEntry entry))
                    TakeValue(server, entry.Handle, false, entry.Value, frame, timeNs);
                break;
            default:
                if (pdu.CarriesValue)
                    TakeValue(server, pdu.Handle, fromClient, pdu.Value, frame, timeNs);
                break;
        }
    }

    /// <summary>Packets were missed: gives up what one side had half sent.</summary>
    public void Drop(int side)
    {
        _servers[1 - side].DropPrepared();
        foreach (((int server, ushort handle), ProxyAssembly assembly) in _assemblies)
            if (SenderOf(server, handle) == side && assembly.Drop())
                record.Counts.ProxyPdusLost++;
    }

    /// <summary>Data Out is the server's; of everything else the client writes.</summary>
    private int SenderOf(int server, ushort handle) => _notified.Contains((server, handle)) ? server : 1 - server;

    private readonly HashSet<(int Server, ushort Handle)> _notified = [];

    private void TakeValue(int server, ushort handle, bool fromClient, ReadOnlySpan<byte> value, int frame, long timeNs)
    {
        if (_servers[server].TryGetType(handle, out ushort? type))
        {
            if (type is AttUuid.ProxyDataIn or AttUuid.ProxyDataOut or AttUuid.ProvisioningDataIn or AttUuid.ProvisioningDataOut
                && fromClient == type is AttUuid.ProxyDataIn or AttUuid.ProvisioningDataIn)
                TakeProxyPdu(server, handle, fromClient, value, frame, timeNs, MeshRecognition.Discovered);
            return;
        }
        if (!_guesses.TryGetValue((server, handle), out ValueGuess? guess))
        {
            if (_guesses.Count >= MostGuesses)
                return;
            _guesses.Add((server, handle), guess = new ValueGuess(keys));
        }
        if (guess.IsMesh is null)
        {
            guess.Take(value, frame, timeNs, neighbourIsMesh: record.Proxy != MeshRecognition.None || record.Provisioning != MeshRecognition.None);
            if (guess.IsMesh == true)
                foreach (HeldValue held in guess.Release())
                    TakeProxyPdu(server, handle, fromClient, held.Octets, held.Frame, held.TimeNs, MeshRecognition.ByContent);
        }
        else if (guess.IsMesh == true)
            TakeProxyPdu(server, handle, fromClient, value, frame, timeNs, MeshRecognition.ByContent);
    }

    private void TakeProxyPdu(int server, ushort handle, bool fromClient, ReadOnlySpan<byte> value, int frame, long timeNs, MeshRecognition how)
    {
        if (!fromClient)
            _notified.Add((server, handle));
        if (!ProxyPdu.TryRead(value, out ProxyPdu pdu, out _) || pdu.MessageType > ProxyMessageType.ProvisioningPdu)
        {
            record.Counts.ProxyPdusLost++;
            return;
        }
        if (pdu.MessageType == ProxyMessageType.ProvisioningPdu)
            record.Provisioning = record.Provisioning == MeshRecognition.None ? how : record.Provisioning;
        else
            record.Proxy = record.Proxy == MeshRecognition.None ? how : record.Proxy;
        if (!_assemblies.TryGetValue((server, handle), out ProxyAssembly? assembly))
            _assemblies.Add((server, handle), assembly = new ProxyAssembly());
        bool whole = assembly.Take(in pdu, timeNs, out int lost);
        record.Counts.ProxyPdusLost += lost;
        if (whole && !sink.Take(pdu.MessageType, fromClient, assembly.Whole, frame, timeNs))
            record.Counts.ProxyPdusLost++;
    }
}
