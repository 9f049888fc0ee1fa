using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Provisioning;
using MeshTrace.Protocol.Tests.Vectors;

namespace MeshTrace.Protocol.Tests.Provisioning;

/// <summary>Mesh Protocol 1.1 §8.7 (a provisioning over PB-ADV) and §8.13 (provisioning records): every PDU printed there, both
/// ways.</summary>
public sealed class ProvisioningVectorTests
{
    public static TheoryData<string> Transactions => VectorFile.SampleData.IdsOf("pb_adv_transaction");
    public static TheoryData<string> Acknowledgments => VectorFile.SampleData.IdsOf("pb_adv_transaction_ack");
    public static TheoryData<string> BearerControls => VectorFile.SampleData.IdsOf("pb_adv_bearer_control");

    [Fact]
    public void SpecVectors_AreAllThere() => Assert.Equal((15, 15, 3), (Transactions.Count, Acknowledgments.Count, BearerControls.Count));

    [Theory, MemberData(nameof(Transactions))]
    public void SpecVector_TransactionIsReadAndReassembled(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        List<byte[]> pdus = [.. vector.Outputs.OctetStrings("pb_adv_pdus")], segments = [.. vector.Outputs.OctetStrings("segments")];
        List<byte> whole = [];
        byte fcs = 0;
        for (int i = 0; i < pdus.Count; i++)
        {
            ReadOnlySpan<byte> generic = Generic(vector, pdus[i]);
            if (i == 0)
            {
                Assert.True(TransactionStart.TryRead(generic, out TransactionStart start, out DecodeProblem problem), problem.ToString());
                Assert.Equal(
                    (vector.Outputs.Number("seg_n"), vector.Outputs.Hex("total_length"), vector.Outputs.Hex("fcs")),
                    (start.SegN, (uint)start.TotalLength, (uint)start.Fcs));
                fcs = start.Fcs;
                Assert.Equal(segments[i], start.Data.ToArray());
                whole.AddRange(start.Data);
            }
            else
            {
                Assert.True(TransactionContinuation.TryRead(generic, out TransactionContinuation continuation, out DecodeProblem problem), problem.ToString());
                Assert.Equal(i, continuation.SegmentIndex);
                Assert.Equal(segments[i], continuation.Data.ToArray());
                whole.AddRange(continuation.Data);
            }
        }
        Assert.Equal(vector.Inputs.Text("provisioning_pdu"), Convert.ToHexStringLower([.. whole]));
        Assert.Equal(fcs, ProvisioningFcs.Compute([.. whole]));
    }

    [Theory, MemberData(nameof(Transactions))]
    public void SpecVector_TransactionIsCutAndWritten(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        byte[] pdu = vector.In("provisioning_pdu");
        List<string> written = [];
        for (int segment = 0; segment < ProvisioningSegmenter.SegmentCount(pdu.Length); segment++)
        {
            byte[] octets = [.. Enumerable.Repeat((byte)0xA5, 29)];
            int length = ProvisioningSegmenter.WritePbAdv(
                octets, vector.Inputs.Hex("link_id"), (byte)vector.Inputs.Hex("transaction_number"), pdu, segment);
            written.Add(Convert.ToHexStringLower(octets.AsSpan(0, length)));
        }
        Assert.Equal(vector.Outputs.OctetStrings("pb_adv_pdus").Select(Convert.ToHexStringLower), written);
    }

    /// <summary>The catalogue's fields have the printed values in the printed order, and give the PDU again.</summary>
    [Theory, MemberData(nameof(Transactions))]
    public void SpecVector_FieldsHaveThePrintedValues(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        byte[] octets = vector.In("provisioning_pdu");
        Assert.True(ProvisioningPdu.TryRead(octets, out ProvisioningPdu pdu, out DecodeProblem problem), problem.ToString());
        Assert.Equal(vector.Outputs.Hex("pdu_type"), (uint)pdu.Type);
        Assert.StartsWith(pdu.Definition.Name, vector.Json.Text("title"), StringComparison.Ordinal);
        IReadOnlyList<ProvisioningFieldValue> fields = ProvisioningFieldReader.Read(pdu);
        Assert.Equal(
            vector.Outputs.GetProperty("fields").EnumerateObject().Select(f => f.Value.GetString()),
            fields.Select(f => Convert.ToHexStringLower(f.Octets)));
        byte[] written = [.. Enumerable.Repeat((byte)0xA5, octets.Length)];
        Assert.Equal(octets.Length, ProvisioningFieldReader.Write(written, pdu.Type, fields));
        Assert.Equal(octets, written);
    }

    [Theory, MemberData(nameof(Acknowledgments))]
    public void SpecVector_AcknowledgmentReadsAndWritesBack(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        byte[] octets = vector.Out("pb_adv_pdu");
        Assert.True(TransactionAcknowledgment.TryRead(Generic(vector, octets), out _, out DecodeProblem problem), problem.ToString());
        byte[] generic = [0xA5];
        WritesBack(vector, octets, generic[..TransactionAcknowledgment.Write(generic)]);
    }

    [Theory, MemberData(nameof(BearerControls))]
    public void SpecVector_BearerControlReadsAndWritesBack(string id)
    {
        Vector vector = VectorFile.SampleData[id];
        byte[] octets = vector.Out("pb_adv_pdu");
        ReadOnlySpan<byte> generic = Generic(vector, octets);
        byte[] written = [.. Enumerable.Repeat((byte)0xA5, LinkOpen.Length)];
        DecodeProblem problem;
        int length;
        switch (vector.Inputs.Text("message"))
        {
            case "link open":
                Assert.True(LinkOpen.TryRead(generic, out LinkOpen open, out problem), problem.ToString());
                Assert.Equal(vector.Inputs.Text("device_uuid"), Convert.ToHexStringLower(open.DeviceUuidOctets));
                Assert.Equal(vector.Inputs.Text("device_uuid"), open.DeviceUuid.ToString("n"));
                length = LinkOpen.Write(written, open.DeviceUuid);
                break;
            case "link ack":
                Assert.True(LinkAck.TryRead(generic, out _, out problem), problem.ToString());
                length = LinkAck.Write(written);
                break;
            default:
                Assert.True(LinkClose.TryRead(generic, out LinkClose close, out problem), problem.ToString());
                Assert.Equal(vector.Inputs.Hex("reason"), (uint)close.Reason);
                length = LinkClose.Write(written, close.Reason);
                break;
        }
        WritesBack(vector, octets, written[..length]);
    }

    private static ReadOnlySpan<byte> Generic(Vector vector, byte[] octets)
    {
        Assert.True(PbAdvPdu.TryRead(octets, out PbAdvPdu pdu, out DecodeProblem problem), problem.ToString());
        Assert.Equal((vector.Inputs.Hex("link_id"), vector.Inputs.Hex("transaction_number")), (pdu.LinkId, (uint)pdu.TransactionNumber));
        return pdu.GenericProvisioningPdu;
    }

    private static void WritesBack(Vector vector, byte[] octets, byte[] generic)
    {
        byte[] written = [.. Enumerable.Repeat((byte)0xA5, octets.Length)];
        int length = PbAdvPdu.Write(written, vector.Inputs.Hex("link_id"), (byte)vector.Inputs.Hex("transaction_number"), generic);
        Assert.Equal(octets.Length, length);
        Assert.Equal(octets, written);
    }
}
