using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Protocol.LowerTransport;

namespace MeshTrace.Analysis.Tests.Nodes;

/// <summary>Hops of Heartbeats: InitTTL - RxTTL + 1 (Mesh Protocol 1.1 §3.6.7.3).</summary>
public sealed class HeartbeatCensusTests
{
    private readonly ConfigTalk _talk = new();

    [Fact]
    public void HopsAreCountedFromTheInitTtl_OverAllCopiesAndHeartbeats()
    {
        Heartbeat(0, 1, initTtl: 5, ttls: [5, 4]);
        Heartbeat(10_000, 2, initTtl: 5, ttls: [3]);
        CaptureHistory history = _talk.Analyse();
        Assert.Equal(new HeartbeatHops(5, 1, 2), HeartbeatCensus.HopsOf(history, 0));
        Assert.Equal(new HeartbeatHops(5, 3, 3), HeartbeatCensus.HopsOf(history, 1));
        NodeHeartbeats node = Assert.Single(HeartbeatCensus.Of(history));
        Assert.Equal((0x000F, 2, new HeartbeatHops(5, 1, 3)), (node.Node.Value, node.Heard, node.Hops));
    }

    [Fact]
    public void ATtlAboveTheInitTtl_TellsNoHops()
    {
        Heartbeat(0, 1, initTtl: 3, ttls: [5]);     // no relay raises a TTL: whoever wrote the message is wrong
        Assert.Null(HeartbeatCensus.HopsOf(_talk.Analyse(), 0));
    }

    private void Heartbeat(double ms, uint seq, byte initTtl, byte[] ttls)
    {
        byte[] pdu = new byte[16];
        int length = UnsegmentedControl.Write(pdu, 0x0A, [initTtl, 0x00, 0x01]);
        foreach (byte ttl in ttls)
            _talk.Air.Network(ms += 20, true, ttl, seq, 0x000F, 0x0001, pdu.AsSpan(0, length));
    }
}
