using System.Text.Json;
using MeshTrace.Protocol.LowerTransport;
using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Security;
using MeshTrace.Protocol.Tests.Security;
using Lower = MeshTrace.Protocol.LowerTransport.LowerTransport;

namespace MeshTrace.Protocol.Tests.Vectors;

/// <summary>The parts that message vectors and network PDU vectors share.</summary>
internal static class MessageVector
{
    /// <summary>The credentials of the vector, checked against its printed NID and keys, once for each AES path.</summary>
    public static List<NetworkCredentials> Credentials(Vector vector) => Credentials(vector, vector.Inputs.Text("credentials"));

    /// <inheritdoc cref="Credentials(Vector)"/>
    public static List<NetworkCredentials> Credentials(Vector vector, string kind)
    {
        byte[] netKey = vector.In("net_key");
        NetworkCredentials derived = kind switch
        {
            "managed flooding" => NetworkCredentials.Flooding(netKey),
            "directed" => NetworkCredentials.Directed(netKey),
            _ => Friendship(netKey, vector.Inputs.GetProperty("friendship")),
        };
        Assert.Equal(vector.Outputs.Hex("nid"), derived.Nid);
        byte[] encryptionKey = vector.Out("encryption_key"), privacyKey = vector.Out("privacy_key");
        List<NetworkCredentials> all = [derived];
        foreach ((_, Func<byte[], AesKey> make) in AesPaths.All)
            all.Add(new NetworkCredentials(derived.Kind, derived.Nid, make(encryptionKey), make(privacyKey)));
        return all;
    }

    public static NetworkCredentials Friendship(byte[] netKey, JsonElement f) => NetworkCredentials.Friendship(netKey, f.Address("lpn_address"),
        f.Address("friend_address"), (ushort)f.Hex("lpn_counter"), (ushort)f.Hex("friend_counter"));

    /// <summary>Decrypts one Network PDU of the vector, checks all that is printed about it, and gives its TransportPDU.</summary>
    public static byte[] Receive(Vector vector, JsonElement printed, NetworkCredentials credentials)
    {
        JsonElement inputs = vector.Inputs;
        byte[] octets = printed.Octets("network_pdu");
        uint ivIndex = inputs.Hex("iv_index");
        Assert.True(NetworkPdu.TryRead(octets, out NetworkPdu pdu, out DecodeProblem problem), problem.ToString());
        Assert.Equal((credentials.Nid, (ivIndex & 1) == 1), (pdu.Nid, pdu.Ivi));
        Assert.Equal(printed.Hex("ivi_nid"), octets[0]);

        byte[] buffer = Enumerable.Repeat((byte)0xA5, octets.Length + 3).ToArray();
        Assert.True(NetworkSecurity.TryDecrypt(octets, credentials, ivIndex, buffer.AsSpan(1), out int length));
        Assert.Equal([0xA5, 0xA5, 0xA5], [buffer[0], buffer[^2], buffer[^1]]);   // nothing beside the octets that the PDU may take
        byte[] clearOctets = buffer[1..(1 + length)];
        Assert.True(ClearNetworkPdu.TryRead(clearOctets, out ClearNetworkPdu clear, out problem), problem.ToString());
        Assert.Equal((inputs.Number("ctl") == 1, inputs.Number("ttl"), printed.Hex("seq")), (clear.Ctl, clear.Ttl, clear.Seq));
        Assert.Equal((inputs.Address("src"), inputs.Address("dst")), (clear.Src, clear.Dst));
        Assert.Equal(((ivIndex & 1) == 1, credentials.Nid), (clear.Ivi, clear.Nid));
        Assert.Equal(printed.Text("lower_transport_pdu"), Convert.ToHexStringLower(clear.TransportPdu));

        int micLength = clear.Ctl ? 8 : 4;
        Assert.Equal(printed.Text("obfuscated_header"), Convert.ToHexStringLower(octets.AsSpan(1, 6)));
        Assert.Equal(printed.Text("enc_dst_and_transport_pdu"), Convert.ToHexStringLower(octets.AsSpan(7..^micLength)));
        Assert.Equal(printed.Text("net_mic"), Convert.ToHexStringLower(octets.AsSpan(^micLength..)));
        CheckSteps(printed, octets, clearOctets, credentials, ivIndex);
        return clear.TransportPdu.ToArray();
    }

    /// <summary>The network nonce, the privacy plaintext and PECB, as the encoder makes them.</summary>
    private static void CheckSteps(JsonElement printed, byte[] octets, byte[] clear, NetworkCredentials credentials, uint ivIndex)
    {
        byte[] nonce = new byte[AesCcm.NonceLength], privacy = new byte[16];
        NetworkSecurity.WriteNonce(nonce, NetworkSecurity.Nonce.Network, clear.AsSpan(1, 6), ivIndex);
        Assert.Equal(printed.Text("network_nonce"), Convert.ToHexStringLower(nonce));
        NetworkSecurity.WritePrivacyPlaintext(privacy, octets.AsSpan(7, 7), ivIndex);
        Assert.Equal(printed.Text("privacy_plaintext"), Convert.ToHexStringLower(privacy));
        credentials.PrivacyKey.Encrypt(privacy, privacy);
        Assert.StartsWith(printed.Text("pecb"), Convert.ToHexStringLower(privacy), StringComparison.Ordinal);   // printed with 6 or 16 octets
    }

    /// <summary>Encrypts one TransportPDU and compares with the printed Network PDU.</summary>
    public static void Send(Vector vector, JsonElement printed, NetworkCredentials credentials, ReadOnlySpan<byte> transportPdu)
    {
        JsonElement inputs = vector.Inputs;
        Assert.Equal(printed.Text("lower_transport_pdu"), Convert.ToHexStringLower(transportPdu));
        byte[] clear = Enumerable.Repeat((byte)0xA5, NetworkSecurity.LongestPdu).ToArray();
        byte[] pdu = Enumerable.Repeat((byte)0xA5, NetworkSecurity.LongestPdu).ToArray();
        int length = NetworkSecurity.Write(clear, inputs.Hex("iv_index"), credentials.Nid, inputs.Number("ctl") == 1, (byte)inputs.Number("ttl"),
            printed.Hex("seq"), inputs.Address("src"), inputs.Address("dst"), transportPdu);
        length = NetworkSecurity.Encrypt(clear.AsSpan(0, length), credentials, inputs.Hex("iv_index"), pdu);
        Assert.Equal(printed.Text("network_pdu"), Convert.ToHexStringLower(pdu.AsSpan(0, length)));
    }

    /// <summary>Puts the segments of one message together, as they stand in the vector.</summary>
    public static byte[] Reassemble(Vector vector, List<byte[]> transportPdus)
    {
        List<byte> whole = [];
        bool ctl = vector.Inputs.Number("ctl") == 1;
        uint firstSeq = vector.Inputs.Hex("seq");
        for (int i = 0; i < transportPdus.Count; i++)
        {
            uint seq = vector.Outputs.GetProperty("pdus")[i].Hex("seq");
            if (ctl)
            {
                Assert.True(SegmentedControl.TryRead(transportPdus[i], out SegmentedControl segment, out DecodeProblem problem), problem.ToString());
                Assert.Equal((i, transportPdus.Count - 1, vector.Inputs.Hex("control_opcode")), (segment.SegO, segment.SegN, (uint)segment.Opcode));
                Assert.Equal(firstSeq, Lower.SeqAuth(seq, segment.SeqZero));
                whole.AddRange(segment.Segment);
            }
            else
            {
                Assert.True(SegmentedAccess.TryRead(transportPdus[i], out SegmentedAccess segment, out DecodeProblem problem), problem.ToString());
                Assert.Equal((i, transportPdus.Count - 1, vector.Inputs.Number("szmic") == 1), (segment.SegO, segment.SegN, segment.SzMic));
                Assert.Equal(KeyBits(vector), (segment.Akf, segment.Aid));
                Assert.Equal(firstSeq, Lower.SeqAuth(seq, segment.SeqZero));
                whole.AddRange(segment.Segment);
            }
        }
        return [.. whole];
    }

    /// <summary>AKF and AID: an application key has its AID, a device key 0.</summary>
    public static (bool Akf, byte Aid) KeyBits(Vector vector) =>
        vector.Has("app_key") ? (true, KeyDerivation.K4(vector.In("app_key"))) : (false, (byte)0);
}
