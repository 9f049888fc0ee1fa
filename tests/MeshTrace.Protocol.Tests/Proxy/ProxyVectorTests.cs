using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Proxy;
using MeshTrace.Protocol.Security;
using MeshTrace.Protocol.Tests.Vectors;

namespace MeshTrace.Protocol.Tests.Proxy;

/// <summary>Samples of Mesh Protocol 1.1 §8.5, §8.6, §8.8, §8.9 and §8.15, both ways.</summary>
public class ProxyVectorTests
{
    public static readonly string[] Kinds =
        ["proxy_service_data", "provisioning_service_data", "proxy_configuration", "proxy_solicitation", "gatt_sar"];

    public static TheoryData<string> ServiceData => VectorFile.SampleData.IdsOf("proxy_service_data");
    public static TheoryData<string> ProvisioningData => VectorFile.SampleData.IdsOf("provisioning_service_data");
    public static TheoryData<string> Configurations => VectorFile.SampleData.IdsOf("proxy_configuration");
    public static TheoryData<string> Solicitations => VectorFile.SampleData.IdsOf("proxy_solicitation");
    public static TheoryData<string> Segmentations => VectorFile.SampleData.IdsOf("gatt_sar");

    [Theory, MemberData(nameof(ServiceData))]
    public void SpecVector_ProxyServiceData_BothWays(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        NetKeyMaterial network = new(vector.In("net_key"));
        byte[] octets = ServiceDataOf(vector);
        Assert.Equal(vector.Out("service_data"), octets);
        Assert.True(ProxyServiceData.TryRead(octets, out ProxyServiceData data, out DecodeProblem problem), problem.ToString());
        Assert.Equal(vector.Inputs.Hex("identification_type"), (uint)data.Type);

        ulong random = data.Random ?? 0;
        if (vector.Has("random"))
        {
            Assert.Equal(vector.Inputs.Text("random"), random.ToString("x16"));
            Assert.Equal(vector.Outputs.Text("hash"), data.Hash!.Value.ToString("x16"));
            byte[] e = new byte[16];
            network.IdentityKey.Encrypt(vector.Out("e_plaintext"), e);
            Assert.Equal(vector.Out("hash"), e[8..]);
            if (vector.Gives("e_output"))
                Assert.Equal(vector.Out("e_output"), e);
        }
        else
        {
            Assert.Equal(vector.Outputs.Text("network_id"), data.NetworkId!.Value.ToString("x16"));
        }

        MeshAddress address = vector.Has("address") ? vector.Inputs.Address("address") : default;
        Assert.Equal(!vector.Has("address"), data.IsOf(network));
        Assert.Equal(vector.Has("address"), data.IsOf(network.IdentityKey, address));
        Assert.False(data.IsOf(network.IdentityKey, new MeshAddress(0x0777)));
        Assert.False(data.IsOf(new NetKeyMaterial(new byte[16])));
        Assert.Equal(octets, Written(b => (IdentificationType)vector.Inputs.Hex("identification_type") switch
        {
            IdentificationType.NetworkId => ProxyServiceData.WriteNetworkId(b, network.NetworkId),
            IdentificationType.PrivateNetworkIdentity => ProxyServiceData.WritePrivateNetworkIdentity(b, network, random),
            IdentificationType type => ProxyServiceData.WriteNodeIdentity(b, network.IdentityKey, address, random, type == IdentificationType.PrivateNodeIdentity),
        }));
    }

    [Theory, MemberData(nameof(ProvisioningData))]
    public void SpecVector_ProvisioningServiceData_BothWays(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        byte[] octets = ServiceDataOf(vector);
        Assert.True(ProvisioningServiceData.TryRead(octets, out ProvisioningServiceData data, out DecodeProblem problem), problem.ToString());
        Assert.Equal(vector.Inputs.Text("device_uuid"), Convert.ToHexStringLower(data.DeviceUuid));
        Assert.Equal(vector.Inputs.Text("device_uuid"), data.DeviceGuid.ToString("N"));
        Assert.Equal(vector.Inputs.Hex("oob_information"), data.OobInformation);
        Assert.Equal(octets, Written(b => ProvisioningServiceData.Write(b, vector.In("device_uuid"), (ushort)vector.Inputs.Hex("oob_information"))));
    }

    [Theory, MemberData(nameof(Configurations))]
    public void SpecVector_ProxyConfiguration_BothWays(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        uint ivIndex = vector.Inputs.Hex("iv_index");
        byte[] onAir = vector.Out("network_pdu");
        Assert.True(ProxyPdu.TryRead(vector.Out("proxy_pdu"), out ProxyPdu proxyPdu, out DecodeProblem problem), problem.ToString());
        Assert.Equal((Sar.Complete, ProxyMessageType.ProxyConfiguration), (proxyPdu.Sar, proxyPdu.MessageType));
        Assert.Equal(onAir, proxyPdu.Data.ToArray());
        foreach (NetworkCredentials credentials in MessageVector.Credentials(vector, "managed flooding"))
        {
            byte[] buffer = new byte[onAir.Length];
            Assert.False(NetworkSecurity.TryDecrypt(onAir, credentials, ivIndex, buffer, out _));   // not with the network nonce
            Assert.True(NetworkSecurity.TryDecryptProxyConfiguration(onAir, credentials, ivIndex, buffer, out int length));
            Assert.True(ClearNetworkPdu.TryRead(buffer.AsSpan(0, length), out ClearNetworkPdu clear, out problem), problem.ToString());
            Assert.Equal((true, 0, vector.Inputs.Hex("seq")), (clear.Ctl, clear.Ttl, clear.Seq));
            Assert.Equal((vector.Inputs.Address("src"), vector.Inputs.Address("dst")), (clear.Src, clear.Dst));
            Assert.Equal(vector.Inputs.Text("message"), Convert.ToHexStringLower(clear.TransportPdu));
            CheckSteps(vector, onAir, buffer, credentials, NetworkSecurity.Nonce.Proxy, "proxy_nonce", "enc_dst_and_transport_pdu", ivIndex);

            byte[] message = Rewritten(vector.In("message"));
            Assert.Equal(vector.In("message"), message);
            byte[] laidOut = new byte[32];
            int clearLength = NetworkSecurity.Write(laidOut, ivIndex, credentials.Nid, ctl: true, ttl: 0, vector.Inputs.Hex("seq"),
                vector.Inputs.Address("src"), vector.Inputs.Address("dst"), message);
            byte[] pdu = Written(b => NetworkSecurity.EncryptProxyConfiguration(laidOut.AsSpan(0, clearLength), credentials, ivIndex, b));
            Assert.Equal(onAir, pdu);
            Assert.Equal(vector.Out("proxy_pdu"), Written(b => ProxyPdu.Write(b, Sar.Complete, ProxyMessageType.ProxyConfiguration, pdu)));
        }
    }

    [Theory, MemberData(nameof(Solicitations))]
    public void SpecVector_Solicitation_BothWays(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        Assert.True(SolicitationServiceData.TryRead(vector.Out("service_data"), out SolicitationServiceData data, out DecodeProblem problem), problem.ToString());
        byte[] onAir = data.SolicitationPdu.ToArray();
        Assert.Equal(vector.Out("solicitation_pdu"), onAir);
        Assert.Equal(vector.Outputs.Hex("nid"), data.Nid);
        foreach (NetworkCredentials credentials in MessageVector.Credentials(vector, "managed flooding"))
        {
            byte[] buffer = new byte[onAir.Length];
            Assert.True(NetworkSecurity.TryDecryptSolicitation(onAir, credentials, buffer, out int length));
            Assert.True(ClearNetworkPdu.TryRead(buffer.AsSpan(0, length), out ClearNetworkPdu clear, out problem), problem.ToString());
            Assert.Equal((false, true, 0, vector.Inputs.Hex("sseq"), 0), (clear.Ivi, clear.Ctl, clear.Ttl, clear.Seq, clear.TransportPdu.Length));
            Assert.Equal((vector.Inputs.Address("ssrc"), vector.Inputs.Address("dst")), (clear.Src, clear.Dst));
            CheckSteps(vector, onAir, buffer, credentials, NetworkSecurity.Nonce.ProxySolicitation, "proxy_solicitation_nonce", "enc_dst", 0);

            byte[] laidOut = new byte[32];
            int clearLength = NetworkSecurity.Write(laidOut, 0, credentials.Nid, ctl: true, ttl: 0, vector.Inputs.Hex("sseq"),
                vector.Inputs.Address("ssrc"), vector.Inputs.Address("dst"), []);
            byte[] pdu = Written(b => NetworkSecurity.EncryptSolicitation(laidOut.AsSpan(0, clearLength), credentials, b));
            Assert.Equal(vector.Out("service_data"), Written(b => SolicitationServiceData.Write(b, pdu)));
        }
    }

    [Theory, MemberData(nameof(Segmentations))]
    public void SpecVector_GattSegmentation_BothWays(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        byte[] message = vector.In("message");
        List<byte> whole = [];
        List<byte[]> values = [.. vector.Outputs.OctetStrings("att_values")];
        for (int i = 0; i < values.Count; i++)
        {
            Assert.True(ProxyPdu.TryRead(values[i], out ProxyPdu pdu, out DecodeProblem problem), problem.ToString());
            Assert.Equal(vector.Inputs.Hex("message_type"), (uint)pdu.MessageType);
            Assert.Equal(i == 0 ? Sar.First : i == values.Count - 1 ? Sar.Last : Sar.Continuation, pdu.Sar);
            whole.AddRange(pdu.Data);
        }
        Assert.Equal(message, whole);

        ProxySegmenter segmenter = new((ProxyMessageType)vector.Inputs.Hex("message_type"), message, vector.Inputs.Number("att_mtu"));
        byte[] buffer = new byte[vector.Inputs.Number("att_mtu") - 3];
        foreach (byte[] value in values)
        {
            Assert.True(segmenter.TryWriteNext(buffer, out int length));
            Assert.Equal(value, buffer[..length]);
        }
        Assert.False(segmenter.TryWriteNext(buffer, out _));
    }

    /// <summary>Service data out of the AD structure: length, AD type 0x16, UUID; all of it written again.</summary>
    private static byte[] ServiceDataOf(Vector vector)
    {
        byte[] ad = vector.Out("ad_structure");
        Assert.Equal((ad.Length - 1, 0x16), (ad[0], ad[1]));
        Assert.True(MeshService.TryRead(ad.AsSpan(2), out ushort uuid, out ReadOnlySpan<byte> data));
        Assert.Equal(vector.Inputs.Hex("service_uuid"), uuid);
        byte[] again = [ad[0], ad[1], 0xA5, 0xA5, .. data];
        MeshService.Write(again.AsSpan(2), uuid);
        Assert.Equal(ad, again);
        return data.ToArray();
    }

    private static void CheckSteps(Vector vector, byte[] onAir, byte[] clear, NetworkCredentials credentials, NetworkSecurity.Nonce type,
        string nonceName, string encryptedName, uint ivIndex)
    {
        byte[] nonce = new byte[AesCcm.NonceLength], privacy = new byte[16];
        NetworkSecurity.WriteNonce(nonce, type, clear.AsSpan(1, 6), ivIndex);
        Assert.Equal(vector.Out(nonceName), nonce);
        Assert.Equal(vector.Out(encryptedName), onAir[7..^8]);
        Assert.Equal(vector.Out("net_mic"), onAir[^8..]);
        NetworkSecurity.WritePrivacyPlaintext(privacy, onAir.AsSpan(7), ivIndex);
        Assert.Equal(vector.Out("privacy_plaintext"), privacy);
        credentials.PrivacyKey.Encrypt(privacy, privacy);
        Assert.Equal(vector.Out("pecb"), privacy);
    }

    /// <summary>Reads a proxy configuration message and writes it from its fields.</summary>
    private static byte[] Rewritten(byte[] octets)
    {
        Assert.True(ProxyConfigurationMessage.TryRead(octets, out ProxyConfigurationMessage message, out DecodeProblem problem), problem.ToString());
        byte[] buffer = new byte[16];
        int length = message.Opcode switch
        {
            ProxyConfigurationOpcode.SetFilterType => ProxyConfigurationWriter.WriteSetFilterType(buffer, message.FilterType!.Value),
            ProxyConfigurationOpcode.DirectedProxyCapabilitiesStatus =>
                ProxyConfigurationWriter.WriteDirectedProxyCapabilitiesStatus(buffer, message.DirectedProxy!.Value, message.UseDirected!.Value),
            ProxyConfigurationOpcode.DirectedProxyControl => ProxyConfigurationWriter.WriteDirectedProxyControl(buffer, message.ClientRange),
            ProxyConfigurationOpcode other => throw new InvalidOperationException(other.ToString()),
        };
        return buffer[..length];
    }

    private static byte[] Written(Func<byte[], int> write)
    {
        byte[] buffer = Enumerable.Repeat((byte)0xA5, 40).ToArray();
        return buffer[..write(buffer)];
    }
}
