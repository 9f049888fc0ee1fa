using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Provisioning;
using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Tests.Nodes.Provisioning;

/// <summary>PB-ADV PDUs of a composed provisioning, read with the protocol's own decoders (Mesh Protocol 1.1 §5.2.1, §5.3).</summary>
public class PbAdvTests
{
    private sealed record Heard(long TimeNs, byte Number, byte[] Generic)
    {
        public GenericProvisioningFormat Format => GenericProvisioning.FormatOf(Generic[0]);
    }

    private static readonly string Scenario = Chain.With(
        ("{\"atS\": 1, \"press\": \"panel\", \"asks\": \"on\", \"acknowledged\": true}", "{\"atS\": 4, \"provision\": \"relay a\", \"by\": \"panel\"}"));

    [Fact]
    public void EachTransaction_IsWholeAndItsFrameCheckSequenceRight()
    {
        List<Heard> all = Read(Scenario);
        List<byte[]> pdus = [];
        foreach (IGrouping<byte, Heard> transaction in all.Where(pdu => pdu.Format is GenericProvisioningFormat.TransactionStart or GenericProvisioningFormat.TransactionContinuation).GroupBy(pdu => pdu.Number))
        {
            Assert.True(TransactionStart.TryRead(transaction.First(pdu => pdu.Format == GenericProvisioningFormat.TransactionStart).Generic, out TransactionStart start, out var problem), problem.ToString());
            var parts = new SortedDictionary<int, byte[]> { [0] = start.Data.ToArray() };
            foreach (Heard more in transaction.Where(pdu => pdu.Format == GenericProvisioningFormat.TransactionContinuation))
            {
                Assert.True(TransactionContinuation.TryRead(more.Generic, out TransactionContinuation continuation, out problem), problem.ToString());
                parts[continuation.SegmentIndex] = continuation.Data.ToArray();
            }
            byte[] whole = [.. parts.Values.SelectMany(part => part)];
            Assert.Equal((start.SegN + 1, (int)start.TotalLength, start.Fcs), (parts.Count, whole.Length, ProvisioningFcs.Compute(whole)));
            Assert.True(ProvisioningPdu.TryRead(whole, out _, out problem), problem.ToString());
            pdus.Add(whole);
            Assert.Contains(all, pdu => pdu.Format == GenericProvisioningFormat.TransactionAcknowledgment && pdu.Number == transaction.Key);
        }
        Assert.Equal([0, 1, 2, 3, 3, 5, 5, 6, 6, 7, 8], pdus.Select(pdu => (int)pdu[0]));
        // Provisioner 0x00 and up, device 0x80 and up, one more for each transaction.
        Assert.Equal([0x00, 0x01, 0x02, 0x03, 0x04, 0x05, 0x80, 0x81, 0x82, 0x83, 0x84], all.Where(pdu => pdu.Format == GenericProvisioningFormat.TransactionStart).Select(pdu => (int)pdu.Number).Distinct().Order());
    }

    [Fact]
    public void TheLink_IsOpenedAnsweredAndClosedThreeTimes()
    {
        List<Heard> control = [.. Read(Scenario).Where(pdu => pdu.Format == GenericProvisioningFormat.ProvisioningBearerControl)];
        Assert.Equal(BearerOpcode.LinkOpen, GenericProvisioning.BearerOpcodeOf(control[0].Generic[0]));
        Assert.Contains(control, pdu => GenericProvisioning.BearerOpcodeOf(pdu.Generic[0]) == BearerOpcode.LinkAck);
        Heard[] closes = [.. control.Where(pdu => GenericProvisioning.BearerOpcodeOf(pdu.Generic[0]) == BearerOpcode.LinkClose)];
        Assert.Equal(3, closes.Length);
        Assert.All(closes, pdu => Assert.True(LinkClose.TryRead(pdu.Generic, out LinkClose close, out _) && close.Reason == LinkCloseReason.Success));
        Assert.All(control, pdu => Assert.Equal(0, pdu.Number));
    }

    [Theory]
    [InlineData("\"by\": \"panel\"", "\"by\": \"relay a\"", "$.schedule[0].by")]
    [InlineData("\"by\": \"panel\"", "\"by\": \"panel\", \"algorithm\": \"sha\"", "$.schedule[0].algorithm")]
    [InlineData("\"by\": \"panel\"", "\"by\": \"panel\", \"staticOob\": \"0011\"", "$.schedule[0].staticOob")]
    [InlineData("\"by\": \"panel\"", "\"by\": \"panel\", \"privateKey\": \"0000000000000000000000000000000000000000000000000000000000000000\"", "$.schedule[0].privateKey")]
    [InlineData("\"by\": \"panel\"", "\"by\": \"panel\", \"oob\": 1", "$.schedule[0].oob")]
    public void AWrongMember_IsNamed(string old, string with, string path)
    {
        var wrong = Assert.Throws<ScenarioException>(() => Composed.Of(Scenario.Replace(old, with, StringComparison.Ordinal)));
        Assert.Contains(path, wrong.Message, StringComparison.Ordinal);
    }

    /// <summary>Every PB-ADV PDU that the receiver heard on channel 37.</summary>
    private static List<Heard> Read(string scenario)
    {
        var heard = new List<Heard>();
        using IFrameSource source = CaptureFile.Open(new MemoryStream(Composed.Of(scenario).Files.Capture), "composed");
        while (source.TryReadNext(out CapturedFrame frame))
        {
            int position = 0;
            while (LinkReader.TryReadNext(frame, ref position, out Advertisement advertisement))
            {
                var structures = new AdStructureReader(advertisement.AdvData);
                while (advertisement.Channel == 37 && structures.MoveNext())
                {
                    if (structures.Type == AdType.PbAdv && PbAdvPdu.TryRead(structures.Data, out PbAdvPdu pdu, out _))
                        heard.Add(new Heard(frame.TimeNs, pdu.TransactionNumber, pdu.GenericProvisioningPdu.ToArray()));
                }
            }
        }
        return heard;
    }
}
