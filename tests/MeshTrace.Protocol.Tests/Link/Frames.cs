using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Protocol.Tests.Link;

/// <summary>A copy of an advertisement that outlives its frame.</summary>
internal sealed record Heard(
    AdvertisingPduType? PduType, bool HasAdvertiser, ulong Advertiser, bool Random, int? Channel, int? RssiDbm, CrcCheck Crc, LinkProblem Problem,
    bool IsConnection, string AdvData);

/// <summary>Frames to read, and reading them.</summary>
internal static class Frames
{
    public const ulong Advertiser = 0xC0FFEE123456;

    /// <summary>A mesh message as long as one can be: 31 octets of AdvData.</summary>
    public static byte[] MeshAdvData { get; } = MakeMeshAdvData();

    public static string MeshAdvDataHex => Convert.ToHexStringLower(MeshAdvData);

    public static byte[] Write(int linkType, int channel = 38, int rssiDbm = -61, bool corruptCrc = false, byte[]? advData = null)
    {
        byte[] frame = Filled(LeLinkLayerWriter.LongestFrame);
        int length = LeLinkLayerWriter.Write(
            frame, new LinkType(linkType), AdvertisingPduType.AdvNonconnInd, Advertiser, random: true, advData ?? MeshAdvData, channel, rssiDbm, corruptCrc);
        return frame[..length];
    }

    /// <summary>An LE packet of link type 251 around any PDU of the advertising channels.</summary>
    public static byte[] Bare(params byte[] pdu)
    {
        byte[] frame = Filled(LeLinkLayerWriter.LongestFrame);
        return frame[..LeLinkLayerWriter.WritePacket(frame, LinkType.LeLinkLayer, 0x8E89BED6, pdu, 37, 0)];
    }

    /// <summary>A buffer in which an octet that a writer forgot shows.</summary>
    public static byte[] Filled(int length) => [.. Enumerable.Repeat((byte)0xA5, length)];

    public static List<Heard> Read(int linkType, byte[] octets, int missing = 0, HciKind hci = HciKind.Unknown, bool markedCrcBad = false)
    {
        var frame = new CapturedFrame
        {
            Receiver = 0,
            LinkType = new LinkType(linkType),
            TimeNs = 0,
            OriginalLength = octets.Length + missing,
            FileOffset = 0,
            Octets = octets,
            Hci = hci,
            MarkedCrcBad = markedCrcBad,
        };
        List<Heard> heard = [];
        int position = 0;
        while (LinkReader.TryReadNext(frame, ref position, out Advertisement a))
        {
            heard.Add(new Heard(
                a.PduType, a.HasAdvertiser, a.Advertiser, a.AdvertiserIsRandom, a.Channel, a.RssiDbm, a.Crc, a.Problem, a.IsConnection,
                Convert.ToHexStringLower(a.AdvData)));
            Assert.True(heard.Count <= 255, "an event has at most 255 reports");
        }
        return heard;
    }

    public static Heard ReadOne(int linkType, byte[] octets, int missing = 0, HciKind hci = HciKind.Unknown, bool markedCrcBad = false) =>
        Assert.Single(Read(linkType, octets, missing, hci, markedCrcBad));

    private static byte[] MakeMeshAdvData()
    {
        byte[] networkPdu = [.. Enumerable.Range(0x40, 29).Select(i => (byte)i)];
        byte[] advData = new byte[31];
        AdStructureWriter.Write(advData, AdType.MeshMessage, networkPdu);
        return advData;
    }
}
