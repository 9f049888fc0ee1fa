using System.Text.Json;
using MeshTrace.Protocol.LowerTransport;
using MeshTrace.Protocol.Security;
using MeshTrace.Protocol.Tests.Security;
using Lower = MeshTrace.Protocol.LowerTransport.LowerTransport;
using Upper = MeshTrace.Protocol.UpperTransport.UpperTransport;

namespace MeshTrace.Protocol.Tests.Vectors;

/// <summary>Whole messages of Mesh Protocol 1.1 §8.3, §8.12 and §8.16 and the supplementary ones, up and down through all layers.</summary>
public class MessageVectorTests
{
    public static readonly string[] Kinds = ["message", "network_pdu"];

    public static TheoryData<string> Messages => VectorFile.SampleData.IdsOf("message");
    public static TheoryData<string> NetworkPdus => VectorFile.SampleData.IdsOf("network_pdu");

    [Theory, MemberData(nameof(Messages))]
    public void SpecVector_IsReceived(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        foreach (NetworkCredentials credentials in MessageVector.Credentials(vector))
        {
            List<byte[]> transportPdus = [];
            foreach (JsonElement printed in vector.Outputs.GetProperty("pdus").EnumerateArray())
                transportPdus.Add(MessageVector.Receive(vector, printed, credentials));
            if (vector.Has("control_opcode"))
                CheckControl(vector, transportPdus);
            else
                CheckAccess(vector, transportPdus);
        }
    }

    [Theory, MemberData(nameof(Messages))]
    public void SpecVector_IsSentAsTheSameOctets(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        List<byte[]> transportPdus = vector.Has("control_opcode") ? WriteControl(vector) : WriteAccess(vector);
        JsonElement printed = vector.Outputs.GetProperty("pdus");
        Assert.Equal(printed.GetArrayLength(), transportPdus.Count);
        foreach (NetworkCredentials credentials in MessageVector.Credentials(vector))
            for (int i = 0; i < transportPdus.Count; i++)
                MessageVector.Send(vector, printed[i], credentials, transportPdus[i]);
    }

    [Theory, MemberData(nameof(NetworkPdus))]
    public void SpecVector_NetworkPdu_BothWays(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        JsonElement printed = vector.Outputs.GetProperty("pdus")[0];
        foreach (NetworkCredentials credentials in MessageVector.Credentials(vector))
        {
            byte[] transportPdu = MessageVector.Receive(vector, printed, credentials);
            Assert.Equal(vector.Inputs.Text("lower_transport_pdu"), Convert.ToHexStringLower(transportPdu));
            MessageVector.Send(vector, printed, credentials, vector.In("lower_transport_pdu"));
        }

        // The lower transport PDU is that of another vector, sent again.
        JsonElement carries = vector.Json.GetProperty("carries");
        int segment = carries.TryGetProperty("segment", out JsonElement number) ? number.GetInt32() : 0;
        JsonElement original = VectorFile.SampleData[carries.Text("vector")].Outputs.GetProperty("pdus")[segment];
        Assert.Equal(original.Text("lower_transport_pdu"), vector.Inputs.Text("lower_transport_pdu"));
        if (vector.Json.TryGetProperty("same_network_pdu_as", out JsonElement same))
            Assert.Equal(VectorFile.SampleData[same.GetString()!].Outputs.GetProperty("pdus")[0].Text("network_pdu"), printed.Text("network_pdu"));
    }

    private static void CheckControl(Vector vector, List<byte[]> transportPdus)
    {
        byte opcode = (byte)vector.Inputs.Hex("control_opcode");
        switch (Lower.KindOf(ctl: true, transportPdus[0]))
        {
            case LowerTransportKind.SegmentedControl:
                Assert.Equal(vector.Inputs.Text("control_parameters"), Convert.ToHexStringLower(MessageVector.Reassemble(vector, transportPdus)));
                break;
            case LowerTransportKind.SegmentAcknowledgment:
                Assert.Equal(0, opcode);
                Assert.True(SegmentAcknowledgment.TryRead(transportPdus.Single(), out SegmentAcknowledgment ack, out _));
                byte[] written = new byte[SegmentAcknowledgment.Length];
                SegmentAcknowledgment.Write(written, ack.Obo, ack.SeqZero, ack.BlockAck);
                Assert.Equal(transportPdus.Single(), written);
                break;
            default:
                Assert.True(UnsegmentedControl.TryRead(transportPdus.Single(), out UnsegmentedControl message, out DecodeProblem problem), problem.ToString());
                Assert.Equal((opcode, vector.Inputs.Text("control_parameters")), (message.Opcode, Convert.ToHexStringLower(message.Parameters)));
                break;
        }
    }

    private static void CheckAccess(Vector vector, List<byte[]> transportPdus)
    {
        byte[] upperPdu;
        if (Lower.KindOf(ctl: false, transportPdus[0]) == LowerTransportKind.SegmentedAccess)
            upperPdu = MessageVector.Reassemble(vector, transportPdus);
        else
        {
            Assert.True(UnsegmentedAccess.TryRead(transportPdus.Single(), out UnsegmentedAccess message, out DecodeProblem problem), problem.ToString());
            Assert.Equal(MessageVector.KeyBits(vector), (message.Akf, message.Aid));
            upperPdu = message.UpperTransportPdu.ToArray();
        }
        if (vector.Gives("aid"))
            Assert.Equal(vector.Outputs.Hex("aid"), MessageVector.KeyBits(vector).Aid);
        Assert.Equal(vector.Outputs.Text("upper_transport_pdu"), Convert.ToHexStringLower(upperPdu));
        Assert.Equal(vector.Outputs.Text("upper_transport_pdu"), vector.Outputs.Text("encrypted_access_payload") + vector.Outputs.Text("trans_mic"));

        Given given = new(vector);
        byte[] nonce = new byte[AesCcm.NonceLength];
        Upper.WriteNonce(nonce, given.DeviceKey, given.SzMic, given.Seq, given.Src, given.Dst, given.IvIndex);
        Assert.Equal(vector.Outputs.Text("upper_nonce"), Convert.ToHexStringLower(nonce));
        foreach ((_, Func<byte[], AesKey> make) in AesPaths.All)
        {
            byte[] payload = Enumerable.Repeat((byte)0xA5, upperPdu.Length).ToArray();
            Assert.True(Upper.TryDecrypt(upperPdu, make(given.Key), given.DeviceKey, given.SzMic, given.Seq, given.Src, given.Dst, given.IvIndex,
                given.Label, payload, out int length));
            Assert.Equal(vector.Inputs.Text("access_payload"), Convert.ToHexStringLower(payload.AsSpan(0, length)));
        }
    }

    private static List<byte[]> WriteControl(Vector vector)
    {
        byte opcode = (byte)vector.Inputs.Hex("control_opcode");
        byte[] parameters = vector.In("control_parameters");
        byte[] pdu = new byte[16];
        if (opcode == 0)
        {
            // The vector gives the parameters of an acknowledgment as octets: read and written as fields, they must come out again.
            Assert.True(SegmentAcknowledgment.TryRead([0x00, .. parameters], out SegmentAcknowledgment ack, out _));
            return [pdu[..SegmentAcknowledgment.Write(pdu, ack.Obo, ack.SeqZero, ack.BlockAck)]];
        }
        if (parameters.Length < UnsegmentedControl.LongestLength)
            return [pdu[..UnsegmentedControl.Write(pdu, opcode, parameters)]];
        List<byte[]> segments = [.. parameters.Chunk(SegmentedControl.SegmentLength)];
        return [.. segments.Select((s, i) => pdu[..SegmentedControl.Write(pdu, opcode, (ushort)(vector.Inputs.Hex("seq") & 0x1FFF), (byte)i,
            (byte)(segments.Count - 1), s)])];
    }

    private static List<byte[]> WriteAccess(Vector vector)
    {
        Given given = new(vector);
        byte[] upperPdu = new byte[Upper.LongestAccessPdu], pdu = new byte[16];
        int length = Upper.Encrypt(vector.In("access_payload"), new AesKey(given.Key), given.DeviceKey, given.SzMic, given.Seq, given.Src, given.Dst,
            given.IvIndex, given.Label, upperPdu);
        upperPdu = upperPdu[..length];
        Assert.Equal(vector.Outputs.Text("upper_transport_pdu"), Convert.ToHexStringLower(upperPdu));
        (bool akf, byte aid) = MessageVector.KeyBits(vector);
        // A sender may segment what would fit into one PDU (8.12.8 and 8.16.22 do), so this choice is taken from the vector.
        if ((vector.Outputs.GetProperty("pdus")[0].Octets("lower_transport_pdu")[0] & 0x80) == 0)
            return [pdu[..UnsegmentedAccess.Write(pdu, akf, aid, upperPdu)]];
        List<byte[]> segments = [.. upperPdu.Chunk(SegmentedAccess.SegmentLength)];
        return [.. segments.Select((s, i) => pdu[..SegmentedAccess.Write(pdu, akf, aid, given.SzMic, (ushort)(given.Seq & 0x1FFF), (byte)i,
            (byte)(segments.Count - 1), s)])];
    }

    /// <summary>What the upper transport layer is given, out of the inputs of a vector.</summary>
    internal sealed class Given(Vector vector)
    {
        public bool DeviceKey => vector.Has("dev_key");
        public byte[] Key => vector.In(DeviceKey ? "dev_key" : "app_key");
        public bool SzMic => vector.Inputs.Number("szmic") == 1;
        public uint Seq => vector.Inputs.Hex("seq");
        public MeshAddress Src => vector.Inputs.Address("src");
        public MeshAddress Dst => vector.Inputs.Address("dst");
        public uint IvIndex => vector.Inputs.Hex("iv_index");
        public byte[] Label => vector.Has("label_uuid") ? vector.In("label_uuid") : [];
    }
}
