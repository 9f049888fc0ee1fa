using System.Text.Json;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.LowerTransport;
using MeshTrace.Protocol.Security;
using MeshTrace.Protocol.UpperTransport;

namespace MeshTrace.Synthesis.Tests.Truth;

/// <summary>The octets on the air are the messages that the truth names: read with the protocol's decoders and the description's
/// keys.</summary>
public class MessagesDecodeTests
{
    [Theory]
    [InlineData("library")]
    [InlineData("boathouse")]
    public void Demo_EachMessageIsTheOneTold(string name)
    {
        var composed = Composed.Of(File.ReadAllBytes(Path.Combine(Repository.Root, "captures-demo", name + ".scenario.json")));
        uint ivIndex = composed.Floods.First().GetProperty("ivIndex").GetUInt32();
        var told = composed.Floods.ToDictionary(flood =>
            (flood.GetProperty("src").GetString(), flood.GetProperty("seq").GetUInt32()), flood => flood.GetProperty("what").GetString()!);
        int read = 0;
        foreach (var pdu in composed.Frames.Where(frame => frame is { IsPdu: true, Ctl: false }).DistinctBy(frame =>
            (frame.Src, frame.Seq)))
        {
            if (LowerTransport.KindOf(false, pdu.TransportPdu) != LowerTransportKind.UnsegmentedAccess)
                continue;
            Assert.True(UnsegmentedAccess.TryRead(pdu.TransportPdu, out var lower, out var problem), problem.ToString());
            byte[]? payload = Decrypt(lower.UpperTransportPdu, lower.Akf, pdu, ivIndex, composed.Description);
            Assert.NotNull(payload);
            DecodedMessage message = AccessReader.Read(payload);
            Assert.False(message.Problem.IsProblem, message.Problem.ToString());
            Assert.Equal(told[(pdu.Src.ToString(), pdu.Seq)], message.Definition!.Name);
            read++;
        }
        Assert.True(read > 30, $"{read} messages");
    }

    [Fact]
    public void Composition_IsReassembledAndReadsAsItsNode()
    {
        var composed = Composed.Of(File.ReadAllBytes(Path.Combine(Repository.Root, "captures-demo", "boathouse.scenario.json")));
        JsonElement transfer = composed.Transfers.First(item => item.GetProperty("what").GetString() == "Config Composition Data Status");
        uint seq = transfer.GetProperty("seq").GetUInt32();
        var segments = new SortedDictionary<int, byte[]>();
        MeshAddress src = default, dst = default;
        foreach (var frame in composed.Frames.Where(frame => frame is { IsPdu: true, Ctl: false }))
        {
            if (frame.Src.ToString() == transfer.GetProperty("src").GetString()
                && LowerTransport.KindOf(false, frame.TransportPdu) == LowerTransportKind.SegmentedAccess &&
                SegmentedAccess.TryRead(frame.TransportPdu, out var segment, out _)
                    && LowerTransport.SeqAuth(frame.Seq, segment.SeqZero) == seq)
            {
                segments[segment.SegO] = segment.Segment.ToArray();
                (src, dst) = (frame.Src, frame.Dst);
            }
        }
        Assert.Equal(transfer.GetProperty("segments").GetInt32(), segments.Count);
        byte[] upper = [.. segments.Values.SelectMany(segment => segment)], payload = new byte[upper.Length];
        Assert.True(UpperTransport.TryDecrypt(upper, DeviceKey(composed.Description, src), true, false, seq, src, dst, 0, [], payload,
            out int length));
        DecodedMessage message = AccessReader.Read(payload.AsSpan(0, length));
        Assert.Equal("Config Composition Data Status", message.Definition!.Name);
        JsonElement node = Node(composed.Description, src);
        int models = node.GetProperty("elements").EnumerateArray().Sum(element => element.GetProperty("models").GetArrayLength());
        // CID, PID, VID, CRPL, features: 10 octets; each element 4; each SIG model 2, the one vendor model 4 (Mesh Protocol 1.1 §4.2.2.1).
        Assert.Equal(2 + 10 + (4 * node.GetProperty("elements").GetArrayLength()) + (2 * (models - 1)) + 4, length);
    }

    private static byte[]? Decrypt(ReadOnlySpan<byte> upper, bool akf, DecodedFrame pdu, uint ivIndex, JsonElement description)
    {
        byte[] payload = new byte[upper.Length];
        var keys = akf
            ? description.GetProperty("appKeys").EnumerateArray().Select(key =>
                new AppKeyMaterial(Convert.FromHexString(key.GetProperty("key").GetString()!)).Key)
            : description.GetProperty("nodes").EnumerateArray().Select(node =>
                new AesKey(Convert.FromHexString(node.GetProperty("deviceKey").GetString()!)));
        foreach (AesKey key in keys)
        {
            if (UpperTransport.TryDecrypt(upper, key, !akf, false, pdu.Seq, pdu.Src, pdu.Dst, ivIndex, [], payload, out int length))
                return payload[..length];
        }
        return null;
    }

    private static JsonElement Node(JsonElement description, MeshAddress unicast) =>
        description.GetProperty("nodes").EnumerateArray().First(node =>
            "0x" + node.GetProperty("unicastAddress").GetString() == unicast.ToString());

    private static AesKey DeviceKey(JsonElement description, MeshAddress unicast) =>
        new(Convert.FromHexString(Node(description, unicast).GetProperty("deviceKey").GetString()!));

    // Mesh Model 1.1 §3.2.1, §3.2.2, §6.3.1, §5.2.2: the request as the catalogue reads it.
    [Theory]
    [InlineData("on", "Generic OnOff Set", "OnOff", 1)]
    [InlineData("off", "Generic OnOff Set", "OnOff", 0)]
    [InlineData("level -300", "Generic Level Set", "Level", -300)]
    [InlineData("level by 4000", "Generic Delta Set", "DeltaLevel", 4000)]
    [InlineData("lightness 45000", "Light Lightness Set", "Lightness", 45000)]
    [InlineData("scene 3", "Scene Recall", "SceneNumber", 3)]
    public void Request_ReadsAsAsked(string asks, string name, string field, long value)
    {
        byte[] payload = Synthesis.Nodes.Request.Of(asks).Write(true, 77, 1500);
        DecodedMessage message = AccessReader.Read(payload);
        Assert.Equal(name, message.Definition!.Name);
        Assert.Equal(value, message[field]!.Number);
        Assert.Equal(77, message["TID"]!.Number);
        Assert.Equal(15, message["TransitionTime"]!.Number);
        Assert.Equal(name + " Unacknowledged", AccessReader.Read(Synthesis.Nodes.Request.Of(asks).Write(false, 77, null)).Definition!.Name);
    }
}
