using CsCheck;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.LogicalLink;

namespace MeshTrace.Protocol.Tests.Link;

/// <summary>What connections are made of, at the link layer, in host logs, and in L2CAP. Layouts from memory of the Core Specification; octets laid out by hand.</summary>
public sealed class ConnectionPacketTests
{
    private static readonly int[] LinkTypes = [187, 201, 254, 256, 251, 272, 0x10000 + 1001, 0x10000 + 2001];

    [Theory, InlineData(""), InlineData("02"), InlineData("0203aabb"), InlineData("0201aabb"), InlineData("0000")]
    public void DataChannelPdu_OfAnotherLengthOrReserved_IsRefused(string hex) => Assert.False(DataChannelPdu.TryRead(Convert.FromHexString(hex), out _, out _));

    [Theory]
    [InlineData("0e0300aabb", LogicalLinkId.Start, true, true, false, "00aabb"), InlineData("0100", LogicalLinkId.Continuation, false, false, false, ""), InlineData("1b0102", LogicalLinkId.Control, false, true, true, "02")]
    [InlineData("2201ffaa", LogicalLinkId.Start, false, false, false, "aa")]        // CP: CTEInfo in front of the payload, which Length does not count
    public void DataChannelPdu_IsRead(string hex, LogicalLinkId llid, bool nesn, bool sn, bool moreData, string payload)
    {
        Assert.True(DataChannelPdu.TryRead(Convert.FromHexString(hex), out DataChannelPdu pdu, out DecodeProblem problem), problem.ToString());
        Assert.Equal((llid, nesn, sn, moreData, payload), (pdu.Llid, pdu.Nesn, pdu.Sn, pdu.MoreData, Convert.ToHexStringLower(pdu.Payload)));
    }

    [Fact]
    public void AclPacket_IsRead()
    {
        Assert.True(HciAclPacket.TryRead(Convert.FromHexString("40200300aabbccdd"), out HciAclPacket packet, out _));
        Assert.Equal((0x040, PacketBoundary.First, "aabbcc"), (packet.Handle, packet.Boundary, Convert.ToHexStringLower(packet.Data)));
        Assert.False(HciAclPacket.TryRead(Convert.FromHexString("40200400aabbcc"), out _, out DecodeProblem problem));
        Assert.Equal((ProblemKind.TooShort, 8, 7), (problem.Kind, problem.Needed, problem.Had));
    }

    [Fact]
    public void ConnectInd_IsRead()
    {
        byte[] octets = new byte[ConnectIndData.Length];
        ConnectIndData.Write(octets, 0x50A317C9, 0x2B51A7, 24, 0, 500, 7);
        Assert.Equal("c917a350a7512b010000" + "18000000f401" + "ffffffff1f" + "07", Convert.ToHexStringLower(octets));
        Assert.True(ConnectIndData.TryRead(octets, out ConnectIndData data, out _));
        Assert.Equal((0x50A317C9u, 0x2B51A7u, 24, 0, 500), (data.AccessAddress, data.CrcInit, data.Interval, data.Latency, data.Timeout));
    }

    [Fact]
    public void HciEvents_AreRead()
    {
        byte[] octets = new byte[32];
        int length = HciLeEvent.WriteConnected(octets, 0x0040, isCentral: true, 0xC3B70A4E1101, peerIsRandom: true, 24);
        Assert.Equal("3e13010040000001" + "01114e0ab7c3" + "18000000f40100", Convert.ToHexStringLower(octets.AsSpan(0, length)));
        Assert.True(HciLeEvent.TryRead(octets.AsSpan(0, length), out HciLeEvent connected, out _));
        Assert.Equal((HciConnectionChange.Connected, 0x40, true, 0xC3B70A4E1101ul, true), (connected.Change, connected.Handle, connected.IsCentral, connected.PeerAddress, connected.PeerIsRandom));
        length = HciLeEvent.WriteDisconnected(octets, 0x0041, 0x13);
        Assert.True(HciLeEvent.TryRead(octets.AsSpan(0, length), out HciLeEvent gone, out _));
        Assert.Equal((HciConnectionChange.Disconnected, 0x41, 0x13), (gone.Change, gone.Handle, gone.Reason));
        length = HciLeEvent.WriteEncryptionChanged(octets, 0x0041, encrypted: true);
        Assert.True(HciLeEvent.TryRead(octets.AsSpan(0, length), out HciLeEvent encrypted, out _));
        Assert.True(encrypted.IsEncrypted);
        Assert.False(HciLeEvent.TryRead(Convert.FromHexString("3e0c0201"), out _, out DecodeProblem none));     // an advertising report
        Assert.False(none.IsProblem);
    }

    /// <summary>Running the CRC backward gives the value it began with.</summary>
    [Fact]
    public void CrcInit_IsFoundFromAPduAndItsCrc() => Gen.Select(Gen.Byte.Array[0, 60], Gen.UInt[0, 0xFFFFFF]).Sample((pdu, initial) =>
        Assert.Equal(initial, Crc24.InitialOf(pdu, Crc24.Compute(pdu, initial))));

    [Fact]
    public void RandomOctets_DoNoHarm() => Gen.Select(Gen.Byte.Array[0, 60], Gen.Int[0, 7].Select(i => LinkTypes[i]), Gen.Enum<HciKind>()).Sample((octets, type, kind) =>
    {
        var frame = new CapturedFrame { Receiver = 0, LinkType = new LinkType(type), TimeNs = 0, OriginalLength = octets.Length, FileOffset = 0, Octets = octets, Hci = kind };
        int position = 0;
        while (LinkReader.TryReadNext(in frame, ref position, out Advertisement advertisement))
            Look(in frame, in advertisement);
        Look(in frame, default);
    });

    [Fact]
    public void RoundTrip_OfL2capFrames() => Gen.Select(Gen.UShort, Gen.Byte.Array[0, 300]).Sample((channel, payload) =>
    {
        byte[] octets = new byte[L2capFrame.HeaderLength + payload.Length];
        Assert.Equal(octets.Length, L2capFrame.Write(octets, channel, payload));
        Assert.True(L2capFrame.TryRead(octets, out L2capFrame frame, out _));
        Assert.Equal(channel, frame.ChannelId);
        Assert.Equal(payload, frame.Payload.ToArray());
        Assert.False(L2capFrame.TryRead(octets.AsSpan(1), out L2capFrame shorter, out _) && shorter.Payload.Length == payload.Length);
    });

    private static void Look(in CapturedFrame frame, in Advertisement advertisement)
    {
        if (!ConnectionReader.TryRead(in frame, in advertisement, out ConnectionPacket packet))
            return;
        if (DataChannelPdu.TryRead(packet.Octets, out DataChannelPdu pdu, out _))
            Assert.True(pdu.Payload.Length < frame.Octets.Length);
        if (HciAclPacket.TryRead(packet.Octets, out HciAclPacket acl, out _))
            Assert.True(acl.Data.Length < frame.Octets.Length);
        if (HciLeEvent.TryRead(packet.Octets, out HciLeEvent happened, out _))
            Assert.True(happened.Handle <= 0xFFF && (happened.PeerAddress | happened.Reason | happened.Status) <= 0xFFFF_FFFF_FFFF);
    }
}
