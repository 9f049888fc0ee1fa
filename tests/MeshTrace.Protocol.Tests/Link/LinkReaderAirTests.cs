using System.Buffers.Binary;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Protocol.Tests.Link;

/// <summary>Link types 251, 256 and 272 (public link-layer header type registry).</summary>
public sealed class LinkReaderAirTests
{
    private const int Bare = 251, Radio = 256, Board = 272;
    private const int RadioFlags = 8;

    [Theory]
    [InlineData(Bare, null, null)]
    [InlineData(Radio, 38, -61)]
    [InlineData(Board, 38, -61)]
    public void RoundTrip_GivesEveryFieldBack(int type, int? channel, int? rssi)
    {
        Heard heard = Frames.ReadOne(type, Frames.Write(type));
        Assert.Equal(
            new Heard(AdvertisingPduType.AdvNonconnInd, true, Frames.Advertiser, true, channel, rssi, CrcCheck.Ok, LinkProblem.None, false, Frames.MeshAdvDataHex),
            heard);
    }

    // ADV_NONCONN_IND by hand: access address, header 02 06, AdvA 01..06 public; CRC by the register of the figure.
    [Fact]
    public void OctetsOfABarePacket_AreReadInAirOrder()
    {
        byte[] pdu = Convert.FromHexString("0206010203040506");
        byte[] frame = [0xD6, 0xBE, 0x89, 0x8E, .. pdu, .. RadioRegisters.Crc(pdu, 0x555555)];
        Assert.Equal(
            new Heard(AdvertisingPduType.AdvNonconnInd, true, 0x060504030201, false, null, null, CrcCheck.Ok, LinkProblem.None, false, ""),
            Frames.ReadOne(Bare, frame));
    }

    [Theory]
    [InlineData(Bare)]
    [InlineData(Radio)]
    [InlineData(Board)]
    public void BadCrc_IsTold(int type)
    {
        Heard heard = Frames.ReadOne(type, Frames.Write(type, corruptCrc: true));
        Assert.Equal((CrcCheck.Bad, LinkProblem.BadCrc), (heard.Crc, heard.Problem));
        heard = Frames.ReadOne(type, Frames.Write(type), markedCrcBad: true);
        Assert.Equal((CrcCheck.Bad, LinkProblem.BadCrc), (heard.Crc, heard.Problem));
    }

    [Theory]
    [InlineData(Bare)]
    [InlineData(Radio)]
    [InlineData(Board)]
    public void EveryTruncation_IsTruncated(int type)
    {
        byte[] whole = Frames.Write(type);
        for (int length = 0; length < whole.Length; length++)
        {
            Heard heard = Frames.ReadOne(type, whole[..length], whole.Length - length);
            Assert.Equal(LinkProblem.Truncated, heard.Problem);
            Assert.StartsWith(heard.AdvData, Frames.MeshAdvDataHex, StringComparison.Ordinal);
            if (whole.Length - length <= Crc24.Length)
                Assert.Equal(Frames.MeshAdvDataHex, heard.AdvData);
        }
    }

    [Theory]
    [InlineData("0205010203040506", "AdvA needs six octets")]
    [InlineData("0226010203040506", "legacy AdvData has at most 31 octets")]
    [InlineData("010601020304050607", "ADV_DIRECT_IND is two addresses")]
    [InlineData("030d0102030405060708090a0b0c0d", "SCAN_REQ is two addresses")]
    [InlineData("0521", "CONNECT_IND has 34 octets")]
    [InlineData("0700", "an extended payload begins with its header length")]
    [InlineData("070502010203040506", "the extended header is longer than the payload")]
    [InlineData("07020101", "the flags tell an AdvA that the header has no room for")]
    public void FieldsThatContradict_AreMalformed(string pduHex, string why)
    {
        byte[] pdu = Convert.FromHexString(pduHex);
        Array.Resize(ref pdu, 2 + pdu[1]);
        Heard heard = Frames.ReadOne(Bare, Frames.Bare(pdu));
        Assert.True(heard.Problem == LinkProblem.Malformed, why);
        Assert.Equal(CrcCheck.Ok, heard.Crc);
    }

    [Theory]
    [InlineData(255)]
    [InlineData(1)]
    [InlineData(0x10000 + 1003)]
    public void OtherLinkTypes_AreUnsupported(int type) =>
        Assert.Equal(LinkProblem.UnsupportedLinkType, Frames.ReadOne(type, Frames.Write(Bare)).Problem);

    [Theory]
    [InlineData(new byte[] { 0x42, 0x0E, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14 }, AdvertisingPduType.AdvNonconnInd, true)]
    [InlineData(new byte[] { 0x41, 0x0C, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12 }, AdvertisingPduType.AdvDirectInd, true)]
    [InlineData(new byte[] { 0x43, 0x0C, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12 }, AdvertisingPduType.ScanReq, false)]
    [InlineData(new byte[] { 0x49, 0x03, 1, 2, 3 }, (AdvertisingPduType)9, false)]
    public void EveryPduType_TellsItsSenderOnlyIfThatIsTheAdvertiser(byte[] pdu, AdvertisingPduType type, bool hasAdvertiser)
    {
        Heard heard = Frames.ReadOne(Bare, Frames.Bare(pdu));
        Assert.Equal((LinkProblem.None, type, hasAdvertiser), (heard.Problem, heard.PduType, heard.HasAdvertiser));
        Assert.Equal(hasAdvertiser ? 0x060504030201ul : 0, heard.Advertiser);
        Assert.Equal(type == AdvertisingPduType.AdvNonconnInd ? "0708090a0b0c0d0e" : "", heard.AdvData);
    }

    [Fact]
    public void DataChannelPackets_AreConnections()
    {
        byte[] frame = new byte[LeLinkLayerWriter.LongestFrame];
        int length = LeLinkLayerWriter.WritePacket(frame, LinkType.LeLinkLayer, 0x50123456, [0x01, 0x00], 5, 0, crcInitial: 0x123456);
        Assert.Equal(new Heard(null, false, 0, false, null, null, CrcCheck.Unknown, LinkProblem.None, true, ""), Frames.ReadOne(Bare, frame[..length]));

        length = LeLinkLayerWriter.WritePacket(frame, LinkType.LeLinkLayerWithRadioHeader, 0x50123456, [0x01, 0x00], 5, -70, crcInitial: 0x123456);
        Assert.Equal(new Heard(null, false, 0, false, 5, -70, CrcCheck.Ok, LinkProblem.None, true, ""), Frames.ReadOne(Radio, frame[..length]));
        SetRadioFlags(frame, 0x0003);   // dewhitened, signal power valid; CRC not checked
        Assert.Equal(CrcCheck.Unknown, Frames.ReadOne(Radio, frame[..length]).Crc);
        SetRadioFlags(frame, 0x0303);   // broadcast isochronous: no connection
        Assert.False(Frames.ReadOne(Radio, frame[..length]).IsConnection);
    }

    [Theory]
    [InlineData(0x0003, 0, 37, "RF channel 0 is channel index 37")]
    [InlineData(0x0003, 12, 38, "RF channel 12 is channel index 38")]
    [InlineData(0x0003, 39, 39, "the two numbers are the same")]
    [InlineData(0x0003, 37, 37, "no legacy advertising is sent on RF channel 37: the index was stored")]
    [InlineData(0x0003, 38, 38, "the same with 38")]
    [InlineData(0x0083, 37, 35, "marked as auxiliary it may be sent there")]
    [InlineData(0x0003, 1, 0, "RF channel 1 is channel index 0")]
    [InlineData(0x0043, 12, null, "subject to aliasing")]
    [InlineData(0x0003, 40, null, "there is no such channel")]
    public void RfChannel_IsTurnedIntoTheIndex(int flags, byte rfChannel, int? index, string why)
    {
        byte[] frame = Frames.Write(Radio);
        frame[0] = rfChannel;
        SetRadioFlags(frame, flags);
        Heard heard = Frames.ReadOne(Radio, frame);
        Assert.True(heard.Channel == index, why);
        Assert.Equal((-61, CrcCheck.Ok, LinkProblem.None), (heard.RssiDbm, heard.Crc, heard.Problem));
    }

    [Theory]
    [InlineData(0x0001, true, CrcCheck.Ok, "not checked by the receiver: computed")]
    [InlineData(0x0001, false, CrcCheck.Bad, "the same, wrong")]
    [InlineData(0x0401, true, CrcCheck.Bad, "checked and wrong, whatever the octets say")]
    [InlineData(0x0C01, false, CrcCheck.Bad, "called right, but the octets do not fit")]
    [InlineData(0x0801, true, CrcCheck.Ok, "'right' without 'checked' says nothing")]
    public void CrcFlags_AreReadWithTheOctets(int flags, bool right, CrcCheck expected, string why)
    {
        byte[] frame = Frames.Write(Radio, corruptCrc: !right);
        SetRadioFlags(frame, flags);
        Heard heard = Frames.ReadOne(Radio, frame);
        Assert.True(heard.Crc == expected, why);
        Assert.Null(heard.RssiDbm);   // 0x0002 is clear: the octet is no measurement
    }

    [Fact]
    public void ZerosForTheCrc_AreBelievedIfCalledRight()
    {
        byte[] frame = Frames.Write(Radio);
        frame.AsSpan(^3..).Clear();
        Assert.Equal(CrcCheck.Ok, Frames.ReadOne(Radio, frame).Crc);
        SetRadioFlags(frame, 0x0003);
        Assert.Equal(CrcCheck.Bad, Frames.ReadOne(Radio, frame).Crc);
    }

    [Theory]
    [InlineData(0, 37)]
    [InlineData(12, 38)]
    [InlineData(39, 39)]
    [InlineData(37, 37)]   // the index stored instead of the RF channel
    public void WhitenedPdus_AreDewhitened(byte rfChannel, int index)
    {
        byte[] frame = Frames.Write(Radio);
        frame[0] = rfChannel;
        SetRadioFlags(frame, 0x0002);
        Heard asItIs = Frames.ReadOne(Radio, frame);   // the flag forgotten over a dewhitened packet
        Assert.Equal((LinkProblem.None, Frames.MeshAdvDataHex, index), (asItIs.Problem, asItIs.AdvData, asItIs.Channel));

        Whitening.Apply(frame.AsSpan(14), index);
        Heard heard = Frames.ReadOne(Radio, frame);
        Assert.Equal((LinkProblem.None, CrcCheck.Ok, Frames.MeshAdvDataHex, index), (heard.Problem, heard.Crc, heard.AdvData, heard.Channel));
        SetRadioFlags(frame, 0x0003);
        Assert.NotEqual(LinkProblem.None, Frames.ReadOne(Radio, frame).Problem);
    }

    [Fact]
    public void CodedPackets_HaveACodingIndicator()
    {
        byte[] plain = Frames.Write(Radio);
        byte[] coded = [.. plain[..14], 0x01, .. plain[14..]];
        SetRadioFlags(coded, 0x8C13);   // PHY: LE Coded
        Assert.Equal((LinkProblem.None, Frames.MeshAdvDataHex), Brief(Frames.ReadOne(Radio, coded)));
        Whitening.Apply(coded.AsSpan(15), 38);
        SetRadioFlags(coded, 0x8012);
        Assert.Equal((LinkProblem.None, Frames.MeshAdvDataHex), Brief(Frames.ReadOne(Radio, coded)));

        byte[] twoM = Frames.Write(Radio);
        SetRadioFlags(twoM, 0x4C13);    // PHY: LE 2M has the layout of LE 1M
        Assert.Equal((LinkProblem.None, Frames.MeshAdvDataHex), Brief(Frames.ReadOne(Radio, twoM)));

        byte[] bare = Frames.Write(Bare);   // nothing tells the PHY but the length
        bare = [.. bare[..4], 0x00, .. bare[4..]];
        Assert.Equal((LinkProblem.None, Frames.MeshAdvDataHex), Brief(Frames.ReadOne(Bare, bare)));
    }

    [Fact]
    public void WrongBitsInTheAccessAddress_LeaveItAnAdvertisement()
    {
        byte[] frame = Frames.Write(Radio);
        frame[10] ^= 0x01;
        Assert.Equal((LinkProblem.None, Frames.MeshAdvDataHex), Brief(Frames.ReadOne(Radio, frame)));   // the reference access address tells
        SetRadioFlags(frame, 0x0C03);
        Assert.True(Frames.ReadOne(Radio, frame).IsConnection);
    }

    // Header version 2 as observed in recorded files; octets put together by hand around the packet of link type 251.
    [Fact]
    public void BoardHeader_Version2_IsRead()
    {
        byte[] packet = Frames.Write(Bare);
        byte[] frame = [0x51, (byte)(10 + packet.Length), 0x00, 0x02, 0x34, 0x12, 0x06, 0x0A, 0x01, 37, 63, 0, 0, 1, 2, 3, 4, .. packet];
        Heard heard = Frames.ReadOne(Board, frame);
        Assert.Equal((LinkProblem.None, Frames.MeshAdvDataHex), Brief(heard));
        Assert.Equal((37, -63, CrcCheck.Ok), (heard.Channel, heard.RssiDbm, heard.Crc));
    }

    [Theory]
    [InlineData(3, 3, LinkProblem.UnsupportedHeaderVersion)]
    [InlineData(3, 0, LinkProblem.UnsupportedHeaderVersion)]
    [InlineData(7, 9, LinkProblem.Malformed)]     // payload header length
    [InlineData(2, 5, LinkProblem.Malformed)]     // payload length under that of the payload header
    [InlineData(2, 40, LinkProblem.Malformed)]    // payload length under that of the PDU
    [InlineData(2, 200, LinkProblem.Truncated)]   // more than there is
    public void BoardHeader_BadOctets_AreTold(int offset, byte value, LinkProblem problem)
    {
        byte[] frame = Frames.Write(Board);
        frame[offset] = value;
        if (offset == 2 && value == 200)
            frame = frame[..^4];
        Assert.Equal(problem, Frames.ReadOne(Board, frame).Problem);
    }

    [Fact]
    public void BoardHeader_PacketsThatAreNoLePackets_GiveNothing()
    {
        byte[] frame = Frames.Write(Board);
        frame[6] = 0x0D;
        Assert.Empty(Frames.Read(Board, frame));
    }

    [Fact]
    public void ExtendedPdus_GiveAddressAndData()
    {
        byte[] payload = Frames.Filled(100);
        int length = ExtendedAdvertisingHeader.Write(
            payload, 0, Frames.Advertiser, null, null, 0x5123, null, default, -4, default, Frames.MeshAdvData);
        byte[] pdu = Frames.Filled(120);
        length = AdvertisingPdu.Write(pdu, AdvertisingPduType.AdvExtInd, chSel: false, txAdd: true, rxAdd: false, payload.AsSpan(0, length));
        Heard heard = Frames.ReadOne(Bare, Frames.Bare(pdu[..length]));
        Assert.Equal(
            new Heard(AdvertisingPduType.AdvExtInd, true, Frames.Advertiser, true, null, null, CrcCheck.Ok, LinkProblem.None, false, Frames.MeshAdvDataHex),
            heard);
    }

    private static (LinkProblem Problem, string AdvData) Brief(Heard heard) => (heard.Problem, heard.AdvData);

    private static void SetRadioFlags(byte[] frame, int flags) => BinaryPrimitives.WriteUInt16LittleEndian(frame.AsSpan(RadioFlags), (ushort)flags);
}
