using System.Text.Json;
using MeshTrace.Protocol.LowerTransport;
using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Security;
using Upper = MeshTrace.Protocol.UpperTransport.UpperTransport;

namespace MeshTrace.Protocol.Tests.Vectors;

/// <summary>
/// Samples that an edition before Mesh Protocol 1.1 printed and that 1.1 corrects. Their network layer is sound, so it opens; the layer at which the
/// mistake was made must refuse them.
/// </summary>
public class EarlierEditionTests
{
    public static readonly string[] Ids = ["8.3.11", "8.3.24"];

    [Fact]
    public void EachVectorWithAnEarlierEditionIsTestedHere() =>
        Assert.Equal(Ids, VectorFile.SampleData.All.Where(v => v.Json.TryGetProperty("earlier_edition", out _)).Select(v => v.Id));

    // 8.3.11: segment 0 of a message under a device key, printed with AKF 1 (and AID 0). Taken as it stands it belongs to an application key.
    [Fact]
    public void SegmentWithAkf1_IsNeitherThePrintedPduNorOpenedByAnyKey()
    {
        Vector vector = VectorFile.SampleData["8.3.11"];
        byte[] lower = Lower(vector, 0, MessageVector.Credentials(vector)[0]);
        Assert.NotEqual(vector.Outputs.GetProperty("pdus")[0].Text("network_pdu"), Earlier(vector).OctetStrings("network_pdus").Select(Convert.ToHexStringLower).Single());

        Vector original = VectorFile.SampleData[vector.Json.GetProperty("carries").Text("vector")];
        Assert.True(SegmentedAccess.TryRead(lower, out SegmentedAccess first, out _));
        Assert.True(SegmentedAccess.TryRead(original.Outputs.GetProperty("pdus")[1].Octets("lower_transport_pdu"), out SegmentedAccess second, out _));
        Assert.True(first.Akf);
        Assert.False(second.Akf);   // so it is not a segment of the same message
        Assert.Equal(first.SeqZero, second.SeqZero);

        // Put together all the same, the message opens with no key that AKF 1 allows: not the AppKey of the samples, not the device key in its place.
        byte[] upperPdu = [.. first.Segment, .. second.Segment], payload = new byte[upperPdu.Length];
        MessageVectorTests.Given given = new(original);
        byte[] appKey = VectorFile.SampleData["8.3.24"].In("app_key");
        Assert.NotEqual(first.Aid, KeyDerivation.K4(appKey));
        foreach (byte[] key in (byte[][])[appKey, given.Key])
            Assert.False(Upper.TryDecrypt(upperPdu, new AesKey(key), deviceKey: false, first.SzMic, given.Seq, given.Src, given.Dst, given.IvIndex, [],
                payload, out _));
    }

    // 8.3.24: a 64-bit TransMIC, encrypted with ASZMIC 0 in the application nonce.
    [Fact]
    public void TransMicMadeWithTheWrongNonce_IsRefused()
    {
        Vector vector = VectorFile.SampleData["8.3.24"];
        NetworkCredentials credentials = MessageVector.Credentials(vector)[0];
        Assert.True(SegmentedAccess.TryRead(Lower(vector, 0, credentials), out SegmentedAccess first, out _));
        Assert.True(SegmentedAccess.TryRead(Lower(vector, 1, credentials), out SegmentedAccess second, out _));
        Assert.True(first.SzMic && second.SzMic);
        byte[] upperPdu = [.. first.Segment, .. second.Segment], payload = Enumerable.Repeat((byte)0xA5, 24).ToArray();
        MessageVectorTests.Given given = new(vector);
        Assert.False(Upper.TryDecrypt(upperPdu, new AesKey(given.Key), given.DeviceKey, first.SzMic, given.Seq, given.Src, given.Dst, given.IvIndex,
            given.Label, payload, out int length));
        Assert.Equal(0, length);
        Assert.All(payload[..(upperPdu.Length - 8)], octet => Assert.Equal(0, octet));

        // That this and nothing else was the mistake: with the nonce that the earlier edition printed it opens.
        byte[] opened = new byte[upperPdu.Length - 8];
        Assert.True(AesCcm.TryDecrypt(new AesKey(given.Key), Earlier(vector).Octets("upper_nonce"), upperPdu, 8, given.Label, opened));
        Assert.Equal(vector.In("access_payload"), opened);
    }

    private static JsonElement Earlier(Vector vector) => vector.Json.GetProperty("earlier_edition");

    /// <summary>Opens an earlier Network PDU and checks that it carries the lower transport PDU that was printed with it.</summary>
    private static byte[] Lower(Vector vector, int index, NetworkCredentials credentials)
    {
        byte[] pdu = Earlier(vector).OctetStrings("network_pdus").ElementAt(index), clear = new byte[pdu.Length];
        Assert.True(NetworkSecurity.TryDecrypt(pdu, credentials, vector.Inputs.Hex("iv_index"), clear, out int length));
        Assert.Equal(Earlier(vector).OctetStrings("lower_transport_pdus").ElementAt(index), clear[ClearNetworkPdu.HeaderLength..length]);
        return clear[ClearNetworkPdu.HeaderLength..length];
    }
}
