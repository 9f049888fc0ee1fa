using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.LowerTransport;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Analysis.Tests;

public sealed class CaptureAnalysisTests
{
    private const string OnWithTid1 = "82020101";
    private static readonly byte[] DeviceKey = Convert.FromHexString("a1b2c3d4e5f60718293a4b5c6d7e8f90");

    [Fact]
    public void CopiesOfOneNetworkPdu_AreOneFlood_OverTtlsAndChannels()
    {
        var air = new AirBuilder();
        air.Access(0, 5, 100, 0x0003, 0xC001, OnWithTid1, channel: 37);
        air.Access(0.6, 5, 100, 0x0003, 0xC001, OnWithTid1, channel: 38);
        air.Access(30, 4, 100, 0x0003, 0xC001, OnWithTid1, advertiser: 0xC00000000099);
        air.Access(60, 5, 101, 0x0003, 0xC001, OnWithTid1);

        CaptureHistory history = Analyse(air);

        Assert.Equal(2, history.Floods.Count);
        Assert.Equal((3, 5, 4), (history.Floods[0].Copies, (int)history.Floods[0].HighestTtl, (int)history.Floods[0].LowestTtl));
        Assert.Equal([0, 1, 2], history.CopiesOf(0).ToArray().Select(copy => copy.Frame));
        Assert.Equal([5, 5, 4], history.CopiesOf(0).ToArray().Select(copy => (int)copy.Ttl));
        Assert.Equal([0, 0, 1], history.CopiesOf(0).ToArray().Select(copy => history.HopOf(0, copy)!.Value));
        Assert.Equal(2, history.Messages.Count);
        Assert.Equal("82020101", Convert.ToHexStringLower(history.PayloadOf(0)));
    }

    [Fact]
    public void TheSameContentMoreThanTenSecondsLater_IsAnotherFlood_OfTheSameMessage()
    {
        var air = new AirBuilder();
        air.Access(0, 5, 100, 0x0003, 0xC001, OnWithTid1);
        air.Access(9_999, 5, 100, 0x0003, 0xC001, OnWithTid1);
        air.Access(20_001, 5, 100, 0x0003, 0xC001, OnWithTid1);
        air.Access(20_003, 4, 100, 0x0003, 0xC001, OnWithTid1);

        CaptureHistory history = Analyse(air);

        Assert.Equal(2, history.Floods.Count);
        Assert.Equal([2, 2], new[] { history.Floods[0].Copies, history.Floods[1].Copies });
        Assert.Equal(1, history.Messages.Count);
        Assert.Equal([0, 1], history.FloodsOf(0));
        Assert.Equal([0, 0, 1, 1], Enumerable.Range(0, 4).Select(frame => history.FloodOf(frame)!.Value));
    }

    [Fact]
    public void AFriendRepeatsUnderFriendshipCredentials_AFloodOfItsOwn_OfTheSameMessage()
    {
        var friendship = NetworkCredentials.Friendship(AirBuilder.NetKey, new MeshAddress(0x0009), new MeshAddress(0x0003), 7, 8);
        var air = new AirBuilder();
        air.Network(0, true, 0, 10, 0x0009, 0xFFFD, FriendRequest(lpnCounter: 7));
        air.Network(50, true, 0, 20, 0x0003, 0x0009, FriendOffer(friendCounter: 8));
        air.Access(100, 5, 100, 0x0004, 0x0009, OnWithTid1);
        air.Access(600, 4, 100, 0x0004, 0x0009, OnWithTid1, credentials: friendship);

        CaptureHistory history = Analyse(air);

        Assert.Equal(4, history.Floods.Count);
        Assert.Equal(Credentials.Friendship, history.Floods[3].Credentials);
        Assert.Equal(3, history.Messages.Count);
        Assert.Equal([2, 3], history.FloodsOf(2));
    }

    [Fact]
    public void IvIndex_IsTakenFromAnAuthenticatedBeacon_ElseSearchedFor()
    {
        var searched = new AirBuilder(ivIndex: 1_234);
        searched.Access(0, 5, 100, 0x0003, 0xC001, OnWithTid1);
        searched.Access(0, 5, 101, 0x0003, 0xC001, OnWithTid1);
        CaptureHistory history = Analyse(searched);
        Assert.Equal((1_234u, IvIndexOrigin.Searched), (history.Keys.Subnets[0].IvIndex, history.Keys.Subnets[0].IvIndexOrigin));

        var told = new AirBuilder(ivIndex: 0x12345678);
        told.Access(0, 5, 100, 0x0003, 0xC001, OnWithTid1);
        told.Structure(10, AdType.MeshBeacon, SecureBeacon(0x12345678));
        history = Analyse(told);
        Assert.Equal((0x12345678u, IvIndexOrigin.Beacon), (history.Keys.Subnets[0].IvIndex, history.Keys.Subnets[0].IvIndexOrigin));
        Assert.Equal(1, history.Floods.Count);
        Assert.True(history.Beacons[0].Authenticated);
    }

    [Fact]
    public void ABeaconWithAWrongAuthenticationValue_TeachesNothing()
    {
        var air = new AirBuilder();
        byte[] beacon = SecureBeacon(99);
        beacon[^1] ^= 1;
        air.Structure(0, AdType.MeshBeacon, beacon);
        air.Access(10, 5, 100, 0x0003, 0xC001, OnWithTid1);
        CaptureHistory history = Analyse(air);
        Assert.False(history.Beacons[0].Authenticated);
        Assert.Equal(AirBuilder.IvIndex, history.Keys.Subnets[0].IvIndex);
    }

    [Fact]
    public void AnAppKeyLearntFromAConfigMessage_OpensMessagesHeardBefore()
    {
        byte[] secondAppKey = Convert.FromHexString("00112233445566778899aabbccddeeff");
        var air = new AirBuilder();
        air.Access(0, 5, 100, 0x0003, 0xC001, OnWithTid1, appKey: secondAppKey);
        List<byte[]> segments = air.Segments("00" + "001000" + Convert.ToHexString(secondAppKey), 200, 0x0001, 0x0003, DeviceKey);
        for (int i = 0; i < segments.Count; i++)
            air.Network(100 + (20 * i), false, 5, (uint)(200 + i), 0x0001, 0x0003, segments[i]);

        CaptureHistory history = Analyse(air, deviceKeys: [(0x0003, DeviceKey)]);

        Assert.True(history.Messages[0].Decrypted);
        Assert.Equal("82020101", Convert.ToHexStringLower(history.PayloadOf(0)));
        AppKey learnt = history.Keys.AppKeys[history.Messages[0].AppKey];
        Assert.Equal((KeyOrigin.ConfigMessage, 1, 0), (learnt.Origin, learnt.AppKeyIndex, learnt.BoundNetKey));
    }

    [Fact]
    public void ANetKeyLearntFromAConfigMessage_OpensPdusHeardBefore()
    {
        byte[] secondNetKey = Convert.FromHexString("99887766554433221100ffeeddccbbaa");
        var air = new AirBuilder();
        var other = new NetKeyMaterial(secondNetKey);
        air.Access(0, 5, 100, 0x0003, 0xC001, OnWithTid1, credentials: other.Flooding);
        List<byte[]> segments = air.Segments("8040" + "0100" + Convert.ToHexString(secondNetKey), 200, 0x0001, 0x0003, DeviceKey);
        for (int i = 0; i < segments.Count; i++)
            air.Network(100 + (20 * i), false, 5, (uint)(200 + i), 0x0001, 0x0003, segments[i]);

        CaptureHistory history = Analyse(air, deviceKeys: [(0x0003, DeviceKey)]);

        Assert.Equal(0x0003, history.Floods[0].Src.Value);
        Assert.Equal(1, history.Keys.Subnets[history.Floods[0].Subnet].NetKeyIndex);
        Assert.Equal(0, history.FloodOf(0));
        Assert.Empty(history.UnknownNids);
        Assert.True(history.Messages[0].Decrypted);
    }

    [Fact]
    public void Segments_InterleavedRepeatedAndLate_GiveTheirMessages()
    {
        string first = "02" + string.Concat(Enumerable.Repeat("a5", 40)), second = "02" + string.Concat(Enumerable.Repeat("5a", 30));
        var air = new AirBuilder();
        List<byte[]> a = air.Segments(first, 0x1FFE, 0x0003, 0x0001, DeviceKey), b = air.Segments(second, 500, 0x0004, 0x0001, DeviceKey);
        // SEQ crosses a multiple of 8192 within the first transfer (Mesh Protocol 1.1 §3.5.3.1).
        air.Network(0, false, 5, 0x1FFE, 0x0003, 0x0001, a[0]);
        air.Network(10, false, 5, 500, 0x0004, 0x0001, b[0]);
        air.Network(20, false, 5, 0x2000, 0x0003, 0x0001, a[2]);
        air.Network(30, false, 5, 501, 0x0004, 0x0001, b[2]);
        air.Acknowledge(40, 9, 0x0001, 0x0003, 0x1FFE, 0b0101);
        air.Network(50, false, 5, 0x2001, 0x0003, 0x0001, a[3]);
        air.Network(60, false, 5, 0x2002, 0x0003, 0x0001, a[1]);
        air.Network(70, false, 5, 502, 0x0004, 0x0001, b[1]);
        air.Network(80, false, 5, 503, 0x0004, 0x0001, b[2]);
        air.Acknowledge(90, 10, 0x0001, 0x0003, 0x1FFE, 0b1111);

        CaptureHistory history = Analyse(air, deviceKeys: [(0x0003, DeviceKey), (0x0004, DeviceKey)]);

        Assert.Equal(2, history.Transfers.Count);
        Transfer transfer = history.Transfers[0];
        Assert.Equal((0x1FFEu, 4, TransferOutcome.Acknowledged), (transfer.Seq, transfer.Segments, transfer.Outcome));
        Assert.Equal([0, 2, 3, 1], transfer.Sent.Select(sent => (int)sent.SegO));
        Assert.Equal([0b0101u, 0b1111u], transfer.Acks.Select(ack => ack.Block));
        Assert.Equal(TransferOutcome.AllHeard, history.Transfers[1].Outcome);
        Assert.Equal(first, Convert.ToHexStringLower(history.PayloadOf(transfer.Message)));
        Assert.Equal(second, Convert.ToHexStringLower(history.PayloadOf(history.Transfers[1].Message)));
        Assert.Equal(4, history.FloodsOf(history.Transfers[1].Message).Count);
        Assert.Equal(2, history.Messages.Count);
    }

    [Fact]
    public void AnAcknowledgmentWithAnEmptyBlock_Cancels_UnlessAFullBlockFollows()
    {
        var air = new AirBuilder();
        List<byte[]> segments = air.Segments("02" + new string('0', 60), 300, 0x0003, 0x0001, DeviceKey);
        air.Network(0, false, 5, 300, 0x0003, 0x0001, segments[0]);
        air.Acknowledge(10, 9, 0x0001, 0x0003, 300, 0);
        CaptureHistory history = Analyse(air, deviceKeys: [(0x0003, DeviceKey)]);
        Assert.Equal(TransferOutcome.Cancelled, history.Transfers[0].Outcome);
        Assert.Equal(0, history.Messages.Count);
    }

    [Fact]
    public void WrongKeys_OpenNothing_AndTheNidsAreCounted()
    {
        var air = new AirBuilder(netKey: Convert.FromHexString("ffeeddccbbaa99887766554433221100"));
        for (uint seq = 0; seq < 5; seq++)
            air.Access(seq, 5, seq, 0x0003, 0xC001, OnWithTid1);
        CaptureHistory history = Analyse(air);
        Assert.Equal((5, 0), (history.DistinctNetworkPdus, history.OpenedNetworkPdus));
        Assert.Equal(5, Assert.Single(history.UnknownNids).Copies);
        Assert.All(Enumerable.Range(0, 5), frame => Assert.Equal(FrameProblem.UnknownNetwork, history.Frames[frame].Problem));
    }

    private static CaptureHistory Analyse(AirBuilder air, params (ushort Node, byte[] Key)[] deviceKeys)
    {
        var keys = new KeyArguments
        {
            NetKeys = [new TypedKey(0, new KeyOctets(AirBuilder.NetKey))],
            AppKeys = [new TypedKey(0, new KeyOctets(AirBuilder.AppKey))],
            DeviceKeys = [.. deviceKeys.Select(pair => new TypedDeviceKey(new MeshAddress(pair.Node), new KeyOctets(pair.Key)))],
        };
        var analysis = new CaptureAnalysis(new AnalysisSettings { Keys = keys });
        analysis.Read(air.Frames);
        return analysis.Complete();
    }

    private static byte[] SecureBeacon(uint ivIndex)
    {
        var net = new NetKeyMaterial(AirBuilder.NetKey);
        byte[] beacon = new byte[Protocol.Beacons.SecureNetworkBeacon.Length];
        Protocol.Beacons.SecureNetworkBeacon.Write(beacon, 0, net.NetworkId, ivIndex, net.BeaconKey);
        return beacon;
    }

    // Mesh Protocol 1.1 §3.6.5.3: criteria, ReceiveDelay, PollTimeout, PreviousAddress, NumElements, LPNCounter.
    private static byte[] FriendRequest(ushort lpnCounter)
    {
        byte[] pdu = new byte[16];
        int length = UnsegmentedControl.Write(pdu, 0x03, Convert.FromHexString("4b50057e40000001" + lpnCounter.ToString("x4")));
        return pdu[..length];
    }

    // Mesh Protocol 1.1 §3.6.5.4: ReceiveWindow, QueueSize, SubscriptionListSize, RSSI, FriendCounter.
    private static byte[] FriendOffer(ushort friendCounter)
    {
        byte[] pdu = new byte[16];
        int length = UnsegmentedControl.Write(pdu, 0x04, Convert.FromHexString("fa020500" + friendCounter.ToString("x4")));
        return pdu[..length];
    }
}
