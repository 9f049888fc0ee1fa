using System.Text.Json;
using CsCheck;
using MeshTrace.Captures.Packets;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.LowerTransport;
using MeshTrace.Protocol.Security;
using PacketDotNet;

namespace MeshTrace.Captures.Tests.Packets;

/// <summary>The layers as packets of PacketDotNet.</summary>
public class MeshPacketTests
{
    private const ulong AdvA = 0xC0FFEE001234;

    // Mesh Protocol 1.1 §8.3.1 (Message #1): Friend Request.
    private const string FriendRequest = "68eca487516765b5e5bfdacbaf6cb7fb6bff871f035444ce83a670df";

    // Mesh Protocol 1.1 §8.1.1 and §8.3: the network key and IV index of the sample data.
    private static readonly byte[] NetKey = Convert.FromHexString("7dd7364cd842ad18c17c2b820c84c3d6");
    private const uint IvIndex = 0x12345678;

    [Theory, InlineData(251), InlineData(256), InlineData(272)]
    public void SpecVector_EveryLayer_CanBeExtracted(int linkType)
    {
        byte[] frame = Frame(linkType, Convert.FromHexString(FriendRequest));
        Packet packet = Assert.Single(MeshPacket.ReadAll(new LinkType(linkType), frame, Keys(IvIndex)));
        Assert.Equal((AdvertisingPduType.AdvNonconnInd, AdvA, CrcCheck.Ok), (packet.Extract<AdvertisingPacket>().PduType!.Value, packet.Extract<AdvertisingPacket>().Advertiser!.Value, packet.Extract<AdvertisingPacket>().Crc));
        Assert.Equal(AdType.MeshMessage, packet.Extract<AdStructurePacket>().Type);
        NetworkPduPacket pdu = packet.Extract<NetworkPduPacket>();
        Assert.Equal((false, (byte)0x68), (pdu.Ivi, pdu.Nid));
        Assert.Equal(FriendRequest, Convert.ToHexStringLower(pdu.Bytes));
        ClearNetworkPacket clear = packet.Extract<ClearNetworkPacket>();
        Assert.Equal((true, 0, 1u, 0x1201, 0xFFFD, IvIndex), (clear.Ctl, clear.Ttl, clear.Seq, clear.Src.Value, clear.Dst.Value, clear.IvIndex));
        LowerTransportPacket transport = packet.Extract<LowerTransportPacket>();
        Assert.Equal((LowerTransportKind.UnsegmentedControl, (byte)3), (transport.Kind, transport.Opcode!.Value));
        Assert.Equal("4b50057e400000010000", Convert.ToHexStringLower(transport.PayloadData));
        Assert.Null(transport.SeqZero);
        Assert.Same(clear, transport.ParentPacket);
    }

    [Fact]
    public void Bytes_AreThoseOfTheFrame_WithoutItsCrc()
    {
        byte[] frame = Frame(251, Convert.FromHexString(FriendRequest));
        AdvertisingPacket packet = MeshPacket.ReadAll(LinkType.LeLinkLayer, frame, Keys(IvIndex))[0];
        Assert.NotNull(packet.Extract<ClearNetworkPacket>());      // even where inner layers have octets of their own
        Assert.Equal(Convert.ToHexString(frame[..^3]), Convert.ToHexString(packet.Bytes));
    }

    [Fact]
    public void WithoutKeys_OrWithAnotherIvIndex_ThePduStaysClosed()
    {
        byte[] frame = Frame(251, Convert.FromHexString(FriendRequest));
        foreach (PacketKeys? keys in (PacketKeys?[])[null, new PacketKeys(), Keys(IvIndex + 2)])
        {
            Packet packet = MeshPacket.ReadAll(LinkType.LeLinkLayer, frame, keys)[0];
            Assert.NotNull(packet.Extract<NetworkPduPacket>());
            Assert.Null(packet.Extract<ClearNetworkPacket>());
        }
        Assert.NotNull(MeshPacket.ReadAll(LinkType.LeLinkLayer, frame, Keys(IvIndex + 1))[0].Extract<ClearNetworkPacket>());
    }

    [Fact]
    public void StructuresInFront_AreGoneThrough()
    {
        Span<byte> data = stackalloc byte[64];
        int length = AdStructureWriter.Write(data, AdType.Flags, [6]);
        length += AdStructureWriter.Write(data[length..], AdType.MeshMessage, Convert.FromHexString("68eca487516765b5e5bfdacbaf6c"));
        AdvertisingPacket packet = MeshPacket.ReadAll(LinkType.LeLinkLayer, FrameOf(251, data[..length]))[0];
        Assert.Equal([AdType.Flags, AdType.MeshMessage], packet.AdStructures.Select(structure => structure.Type));
        Assert.Equal(0x68, packet.Extract<NetworkPduPacket>().Nid);
        Assert.Contains("NID=0x68", packet.ToString(StringOutputType.Normal), StringComparison.Ordinal);
        Assert.NotEmpty(packet.PrintHex());
    }

    [Fact]
    public void AWrongCrc_IsNotDecoded()
    {
        byte[] frame = Frame(251, Convert.FromHexString(FriendRequest));
        frame[20] ^= 1;
        AdvertisingPacket packet = MeshPacket.ReadAll(LinkType.LeLinkLayer, frame, Keys(IvIndex))[0];
        Assert.Equal(CrcCheck.Bad, packet.Crc);
        Assert.Null(packet.Extract<AdStructurePacket>());
        Assert.Equal(frame, packet.Bytes);
    }

    [Fact]
    public void EveryTruncation_IsReadWithoutThrowing()
    {
        byte[] frame = Frame(256, Convert.FromHexString(FriendRequest));
        for (int kept = 0; kept < frame.Length; kept++)
            Touch(new LinkType(256), frame[..kept]);
    }

    [Fact]
    public void RandomOctets_NeverThrow() => Gen.Select(Gen.Byte.Array[0, 90], Gen.Int[0, 6]).Sample(
        (octets, type) => Touch(new LinkType(new[] { 187, 201, 251, 254, 256, 272, 1 }[type]), octets), iter: 20_000);

    /// <summary>AD structures of any octets behind a header that is right, so that the inner layers are reached.</summary>
    [Fact]
    public void RandomStructures_NeverThrow() => Gen.Select(Gen.Byte.Array[0, 31], Gen.Bool).Sample((data, mesh) =>
    {
        if (mesh && data.Length > 2)
            (data[0], data[1]) = ((byte)(data.Length - 1), (byte)AdType.MeshMessage);
        Touch(LinkType.LeLinkLayer, FrameOf(251, data));
    }, iter: 20_000);

    /// <summary>The sample opens what the demo's simulation says its receivers heard: the truth was written from the other side.</summary>
    [Fact]
    public void TheDocumentedSample_GivesWhatTheTruthOfTheDemoSays()
    {
        string demo = Path.Combine(Root, "captures-demo");
        byte[] netKey = Convert.FromHexString(Json(Path.Combine(demo, "boathouse.network.json")).GetProperty("netKeys")[0].GetProperty("key").GetString()!);
        using var output = new StringWriter { NewLine = "\n" };
        PacketSample.Print(Path.Combine(demo, "boathouse.pcapng"), netKey, ivIndex: 0, output);
        string[] lines = output.ToString().Split('\n', StringSplitOptions.RemoveEmptyEntries);
        HashSet<string> opened = [.. lines.Select(line => line[..line.IndexOf(':', StringComparison.Ordinal)])];
        HashSet<string> heard = [.. Json(Path.Combine(demo, "boathouse.truth.json")).GetProperty("floods").EnumerateArray()
            .Where(flood => flood.GetProperty("events").EnumerateArray().Any(one => one.TryGetProperty("heard", out JsonElement receivers) && receivers.GetArrayLength() > 0))
            .Select(flood => $"{flood.GetProperty("src").GetString()} to {flood.GetProperty("dst").GetString()}, SEQ {flood.GetProperty("seq").GetInt32()}")];
        Assert.NotEmpty(heard);
        Assert.Equal(heard.Order(), opened.Order());
        Assert.Contains(lines, line => line.EndsWith(": SegmentedAccess", StringComparison.Ordinal));
        Assert.Contains(lines, line => line.EndsWith(": SegmentAcknowledgment", StringComparison.Ordinal));
    }

    [Fact]
    public void TheSample_StandsInTheDocumentWordForWord()
    {
        string source = File.ReadAllText(Path.Combine(Root, "tests", "MeshTrace.Captures.Tests", "Packets", "PacketSample.cs")).ReplaceLineEndings("\n");
        int begin = source.IndexOf("// sample begins\n", StringComparison.Ordinal), end = source.IndexOf("// sample ends", StringComparison.Ordinal);
        string[] sample = [.. source[begin..end].Split('\n')[1..].Select(line => line.StartsWith("    ", StringComparison.Ordinal) ? line[4..] : line)];
        Assert.True(sample.Length > 10);
        Assert.Contains("```csharp\n" + string.Join('\n', sample).Trim() + "\n```", File.ReadAllText(Path.Combine(Root, "docs", "packets.md")).ReplaceLineEndings("\n"), StringComparison.Ordinal);
    }

    private static string Root
    {
        get
        {
            DirectoryInfo folder = new(AppContext.BaseDirectory);
            while (!File.Exists(Path.Combine(folder.FullName, "MeshTrace.sln")))
                folder = folder.Parent!;
            return folder.FullName;
        }
    }

    private static JsonElement Json(string file) => JsonSerializer.Deserialize<JsonElement>(File.ReadAllBytes(file));

    private static void Touch(LinkType type, byte[] octets)
    {
        foreach (AdvertisingPacket packet in MeshPacket.ReadAll(type, octets, Keys(IvIndex)))
        {
            Assert.True(packet.AdStructures.Count() <= octets.Length);
            packet.Extract<LowerTransportPacket>();
            Assert.NotEmpty(packet.ToString());
            Assert.True(packet.Bytes.Length <= octets.Length);
        }
    }

    private static PacketKeys Keys(uint ivIndex)
    {
        var keys = new PacketKeys();
        keys.Add(NetworkCredentials.Flooding(NetKey), ivIndex);
        return keys;
    }

    private static byte[] Frame(int linkType, byte[] networkPdu)
    {
        Span<byte> data = stackalloc byte[31];
        return FrameOf(linkType, data[..AdStructureWriter.Write(data, AdType.MeshMessage, networkPdu)]);
    }

    private static byte[] FrameOf(int linkType, ReadOnlySpan<byte> advData)
    {
        Span<byte> frame = stackalloc byte[LeLinkLayerWriter.LongestFrame];
        return frame[..LeLinkLayerWriter.Write(frame, new LinkType(linkType), AdvertisingPduType.AdvNonconnInd, AdvA, true, advData, 37, -60)].ToArray();
    }
}
