using MeshTrace.Protocol.Link;

namespace MeshTrace.Protocol.Tests.Link;

/// <summary>Link types 187, 201, 254 and the BTSnoop forms without frame header; event layouts from memory (volume 4 part E
/// §7.7.65).</summary>
public sealed class LinkReaderHciTests
{
    private const int H4 = 187, H4WithDirection = 201, Monitor = 254, Unframed = 0x10000 + 1001, MonitorUnframed = 0x10000 + 2001;

    public static TheoryData<int> LinkTypes => [H4, H4WithDirection, Monitor, Unframed, MonitorUnframed];

    [Theory, MemberData(nameof(LinkTypes))]
    public void RoundTrip_GivesEveryFieldBack(int type)
    {
        foreach (AdvertisingPduType pduType in (AdvertisingPduType[])[
            AdvertisingPduType.AdvInd, AdvertisingPduType.AdvNonconnInd, AdvertisingPduType.AdvScanInd, AdvertisingPduType.ScanRsp])
            foreach (bool extended in (bool[])[false, true])
            {
                Heard heard = Frames.ReadOne(type, Write(type, pduType, extended, -77), hci: HciKind.Event);
                Assert.Equal(
                    new Heard(pduType, true, Frames.Advertiser, true, null, -77, CrcCheck.Unknown, LinkProblem.None, false, Frames.MeshAdvDataHex), heard);
            }
    }

    [Theory, MemberData(nameof(LinkTypes))]
    public void EveryTruncation_IsTruncated(int type)
    {
        foreach (bool extended in (bool[])[false, true])
        {
            byte[] whole = Write(type, AdvertisingPduType.AdvNonconnInd, extended, -77);
            for (int length = 0; length < whole.Length; length++)
                Assert.Equal(LinkProblem.Truncated, Frames.ReadOne(type, whole[..length], whole.Length - length, HciKind.Event).Problem);
        }
    }

    // Two reports in one event, octets by hand: ADV_NONCONN_IND, public 060504030201, data aabb, -60 dBm; ADV_IND, random 0c0b0a090807, no
    // data,
    // RSSI not available.
    [Fact]
    public void SeveralReports_AreGivenOneAfterTheOther()
    {
        byte[] frame = Convert.FromHexString("04" + "3e18" + "0202" + "0300" + "010203040506" + "02aabb" + "c4" + "0001" + "0708090a0b0c" + "00" + "7f");
        Assert.Equal(
            [
                new Heard(AdvertisingPduType.AdvNonconnInd, true, 0x060504030201, false, null, -60, CrcCheck.Unknown, LinkProblem.None, false, "aabb"),
                new Heard(AdvertisingPduType.AdvInd, true, 0x0c0b0a090807, true, null, null, CrcCheck.Unknown, LinkProblem.None, false, ""),
            ],
            Frames.Read(H4, frame));
    }

    // Extended report by hand: event type 0x0010 (legacy ADV_NONCONN_IND) and 0x0001 (connectable extended, anonymous).
    [Fact]
    public void SeveralExtendedReports_AreGivenOneAfterTheOther()
    {
        string first = "1000" + "01" + "010203040506" + "01" + "00" + "ff" + "7f" + "c4" + "0000" + "00" + "000000000000" + "02aabb";
        string second = "0100" + "ff" + "000000000000" + "01" + "02" + "05" + "7f" + "7f" + "0000" + "00" + "000000000000" + "00";
        byte[] frame = Convert.FromHexString("04" + "3e34" + "0d02" + first + second);
        Assert.Equal(
            [
                new Heard(AdvertisingPduType.AdvNonconnInd, true, 0x060504030201, true, null, -60, CrcCheck.Unknown, LinkProblem.None, false, "aabb"),
                new Heard(AdvertisingPduType.AdvExtInd, false, 0, false, null, null, CrcCheck.Unknown, LinkProblem.None, false, ""),
            ],
            Frames.Read(H4, frame));
    }

    [Theory]
    [InlineData("", LinkProblem.Truncated, "no indicator")]
    [InlineData("09aabb", LinkProblem.Malformed, "no such indicator")]
    [InlineData("043e00", LinkProblem.Malformed, "no subevent")]
    [InlineData("043e020200", LinkProblem.Malformed, "no report at all")]
    [InlineData("043e0c0201030001020304050600", LinkProblem.Truncated, "the RSSI is missing in the frame")]
    [InlineData("043e0b0201030001020304050600c4", LinkProblem.Malformed, "the RSSI lies behind the parameter length")]
    [InlineData("043e0c02010900010203040506" + "00c4", LinkProblem.Malformed, "no such event type")]
    public void BadOctets_AreTold(string hex, LinkProblem problem, string why) =>
        Assert.True(Frames.ReadOne(H4, Convert.FromHexString(hex)).Problem == problem, why);

    [Fact]
    public void DataNotComplete_IsTruncated()
    {
        byte[] frame = Write(H4, AdvertisingPduType.AdvExtInd, extended: true, -50);
        Assert.Equal(LinkProblem.None, Frames.ReadOne(H4, frame).Problem);
        frame[5] = 0x40;   // data status 2
        Assert.Equal(LinkProblem.Truncated, Frames.ReadOne(H4, frame).Problem);
    }

    [Fact]
    public void TheReportsBeforeTheBadOne_AreGiven()
    {
        byte[] frame = Convert.FromHexString("04" + "3e1a" + "0202" + "0300" + "010203040506" + "02aabb" + "c4" + "0001" + "0708090a0b0c" + "ff" + "7f0000");
        List<Heard> heard = Frames.Read(H4, frame);
        Assert.Equal([LinkProblem.None, LinkProblem.Malformed], heard.Select(h => h.Problem));
    }

    [Theory]
    [InlineData(H4, "01030c00", 0)]              // command
    [InlineData(H4, "040e0401030c00", 0)]        // another event
    [InlineData(H4, "043e1301000000", 0)]        // another LE event
    [InlineData(H4, "03000000", 0)]              // SCO
    [InlineData(H4, "0200000000", 1)]            // ACL
    [InlineData(H4WithDirection, "000000010200000000", 1)]
    [InlineData(Monitor, "00000004" + "00000000", 1)]
    [InlineData(Monitor, "00000005" + "00000000", 1)]
    [InlineData(Monitor, "00000002" + "030c00", 0)]
    public void OtherPackets_CountOnlyIfOfAConnection(int type, string hex, int connections)
    {
        List<Heard> heard = Frames.Read(type, Convert.FromHexString(hex));
        Assert.Equal(connections, heard.Count);
        Assert.All(heard, h => Assert.Equal((true, LinkProblem.None), (h.IsConnection, h.Problem)));
    }

    [Theory]
    [InlineData(HciKind.AclSent, 1)]
    [InlineData(HciKind.AclReceived, 1)]
    [InlineData(HciKind.Command, 0)]
    [InlineData(HciKind.Other, 0)]
    [InlineData(HciKind.Unknown, 0)]
    public void UnframedPackets_AreWhatTheFrameSays(HciKind kind, int connections)
    {
        Assert.Equal(connections, Frames.Read(Unframed, [0, 0, 0, 0], hci: kind).Count(h => h.IsConnection));
        Assert.Equal(connections, Frames.Read(MonitorUnframed, [0, 0, 0, 0], hci: kind).Count(h => h.IsConnection));
    }

    private static byte[] Write(int type, AdvertisingPduType pduType, bool extended, int rssi)
    {
        byte[] frame = Frames.Filled(HciReportWriter.LongestFrame);
        int length = extended
            ? HciReportWriter.WriteExtended(frame, new LinkType(type), pduType, Frames.Advertiser, true, Frames.MeshAdvData, rssi)
            : HciReportWriter.Write(frame, new LinkType(type), pduType, Frames.Advertiser, true, Frames.MeshAdvData, rssi);
        return frame[..length];
    }
}
