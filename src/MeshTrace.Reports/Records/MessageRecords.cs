using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.UpperTransport.Control;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Records;

/// <summary><c>message</c> records: one upper transport message a line.</summary>
internal sealed class MessageRecords(RecordsSettings settings)
{
    /// <summary>Under this name <c>reads</c> tells of a payload that does not fit; no field of the standard has it.</summary>
    private const string Problem = "problem";

    public void Write(JsonLine line, CaptureHistory history, int row)
    {
        ref readonly MessageRow message = ref history.Messages[row];
        Subnet subnet = history.Keys.Subnets[message.Subnet];
        line.Begin("message"u8, row);
        line.Word("kind"u8, message.IsControl ? "control"u8 : "access"u8);
        line.Time("time"u8, message.TimeNs);
        line.Address("src"u8, message.Src);
        line.Address("dst"u8, message.Dst);
        line.Uuid("label"u8, message.Label < 0 ? null : history.Keys.Labels[message.Label].Uuid);
        line.Number("ivIndex"u8, message.IvIndex);
        line.Number("seq"u8, message.Seq);
        line.Number("ttl"u8, message.Ttl);
        line.Number("netKeyIndex"u8, subnet.NetKeyIndex);
        line.Word("key"u8, message.Key switch { MessageKey.Application => "app", MessageKey.Device => "device", _ => null });
        line.Number("appKeyIndex"u8, message.AppKey < 0 ? null : history.Keys.AppKeys[message.AppKey].AppKeyIndex);
        line.Address("deviceKeyOf"u8, message.DeviceKeyOf == MeshAddress.Unassigned ? null : message.DeviceKeyOf);
        line.Number("transMicBits"u8, message.TransMicBits == 0 ? null : message.TransMicBits);
        line.Number("segments"u8, message.Segments);
        if (message.Decrypted)
            WriteContent(line, history, row);
        else
            WriteNoContent(line);
        line.Rows("floods"u8, history.FloodsOf(row));
        line.Flag("decrypted"u8, message.Decrypted);
        line.End();
    }

    private void WriteContent(JsonLine line, CaptureHistory history, int row)
    {
        ref readonly MessageRow message = ref history.Messages[row];
        ReadOnlySpan<byte> payload = history.PayloadOf(row);
        if (message.IsControl)
        {
            line.Hex("payload"u8, payload);
            var opcode = (byte)message.Opcode.Value;
            line.PrefixedHex("opcode"u8, opcode, 2);
            line.Null("company"u8);
            line.Word("name"u8, ControlCatalogue.Find(opcode)?.Name);
            DecodedControl control = ControlReader.Read(opcode, payload);
            FieldTree.Write(line, control.Fields, extra: control.Problem.IsProblem ? (Problem, UnfitSection.Says(control.Problem))
                : HeartbeatCensus.HopsOf(history, row) is { } hops ? ("InitTTL", HeartbeatWords.Of(hops)) : null);
            return;
        }
        DecodedMessage decoded = AccessReader.Read(payload, settings.Vendor);
        bool hideKeys = !settings.RevealKeys && KeyMaterial.IsIn(decoded);
        if (hideKeys)
            line.Null("payload"u8);
        else
            line.Hex("payload"u8, payload);
        if (message.Opcode == default && payload.Length == 0)
            line.Null("opcode"u8);
        else
            line.Opcode("opcode"u8, decoded.Opcode);
        line.Number("company"u8, decoded.Opcode.Company);
        line.Word("name"u8, decoded.Definition?.Name);
        FieldTree.Write(line, decoded.Fields, hideKeys, decoded.Problem.IsProblem ? (Problem, UnfitSection.Says(decoded.Problem)) : null);
    }

    private static void WriteNoContent(JsonLine line)
    {
        line.Null("payload"u8);
        line.Null("opcode"u8);
        line.Null("company"u8);
        line.Null("name"u8);
        line.Null("fields"u8);
        line.Null("reads"u8);
    }
}
