using System.Buffers.Binary;
using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Contents;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Beacons;
using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Proxy;

namespace MeshTrace.Analysis.Redaction;

/// <summary>Makes whole messages of the proxy protocol again, if the analysis knows them as such.</summary>
internal sealed class ProxyMessageRedactor
{
    private readonly CaptureHistory _history;
    private readonly Pseudonyms _pseudonyms;
    private readonly ContentRedactor _contents;
    private readonly ProvisioningRedactor _provisioning;
    private readonly HashSet<string> _provisioningPdus;

    public ProxyMessageRedactor(CaptureHistory history, Pseudonyms pseudonyms, ContentRedactor contents, ProvisioningRedactor provisioning)
    {
        (_history, _pseudonyms, _contents, _provisioning) = (history, pseudonyms, contents, provisioning);
        _provisioningPdus = [.. history.ConnectionProvisioning.Select(pdu => Convert.ToHexString(pdu.Octets))];
    }

    /// <summary>In place; false for what is no message of the mesh.</summary>
    public bool TryRedact(ProxyMessageType type, bool fromClient, Span<byte> message)
    {
        switch (type)
        {
            case ProxyMessageType.NetworkPdu:
                return TryContent(fromClient ? ContentKind.GattFromClient : ContentKind.GattFromServer, message);
            case ProxyMessageType.MeshBeacon when Beacon.TryReadType(message, out BeaconType beacon):
                return TryContent(AdvertisingDataRedactor.KindOf(beacon), message);
            case ProxyMessageType.ProxyConfiguration when _history.Contents.Find(ContentKind.ProxyConfiguration, message) >= 0:
                RedactConfiguration(message);
                return true;
            case ProxyMessageType.ProvisioningPdu when _provisioningPdus.Contains(Convert.ToHexString(message)):
                _provisioning.Pdu(message);
                return true;
            default:
                return false;
        }
    }

    private bool TryContent(ContentKind kind, Span<byte> message)
    {
        if (_history.Contents.Find(kind, message) < 0)
            return false;
        _contents.Redact(kind, message);
        return true;
    }

    private void RedactConfiguration(Span<byte> pdu)
    {
        Span<byte> clear = stackalloc byte[NetworkSecurity.LongestPdu];
        if (!ProxyFilterStage.TryOpen(_history.Keys, pdu, clear, out int length, out NetworkCandidate candidate, out uint ivIndex)
            || !ClearNetworkPdu.TryRead(clear[..length], out ClearNetworkPdu opened, out _))
        {
            _contents.Unknown(pdu);
            return;
        }
        Span<byte> message = stackalloc byte[NetworkSecurity.LongestPdu];
        opened.TransportPdu.CopyTo(message);
        message = message[..opened.TransportPdu.Length];
        if (ProxyConfigurationMessage.TryRead(opened.TransportPdu, out ProxyConfigurationMessage read, out _))
        {
            for (int i = 0; i < read.AddressCount; i++)
                BinaryPrimitives.WriteUInt16BigEndian(message[(1 + (2 * i))..], _pseudonyms.Addresses.Of(read.AddressAt(i)).Value);
            if (read.ClientRange is not null)       // LengthPresent(1) | RangeStart(15)
            {
                ushort start = BinaryPrimitives.ReadUInt16BigEndian(message[2..]);
                BinaryPrimitives.WriteUInt16BigEndian(message[2..], (ushort)((start & 0x8000) | _pseudonyms.Addresses.Of(new MeshAddress((ushort)(start & 0x7FFF))).Value));
            }
        }
        else
            _pseudonyms.Octets(message[1..]);
        var credentials = _pseudonyms.Credentials(candidate);
        Span<byte> again = stackalloc byte[NetworkSecurity.LongestPdu];
        int written = NetworkSecurity.Write(again, ivIndex, credentials.Nid, opened.Ctl, opened.Ttl, opened.Seq, _pseudonyms.Addresses.Of(opened.Src), _pseudonyms.Addresses.Of(opened.Dst), message);
        NetworkSecurity.EncryptProxyConfiguration(again[..written], credentials, ivIndex, pdu);
    }
}
