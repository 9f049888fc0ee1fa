using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Tests.Support;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Tests.Transfers;

public sealed class SarRulesTests
{
    private static readonly byte[] DeviceKey = Convert.FromHexString("a1b2c3d4e5f60718293a4b5c6d7e8f90");

    /// <summary>
    /// SAR Transmitter Status with the defaults of Mesh Protocol 1.1 §4.2.48: 5, 2, 2, 7, 1, 2, 9 in fields of four bits, the first one lowest; then
    /// retransmission interval 200 ms + 50 ms x (TTL - 1) (§3.5.3.3).
    /// </summary>
    [Fact]
    public void AStatusHeard_SetsTheTimersOfItsNode()
    {
        var air = new AirBuilder();
        air.Access(0, 5, 10, 0x0003, 0x0001, "806e" + "25722109", deviceKey: DeviceKey);
        byte[] payload = new byte[40];
        payload[0] = 0xC1;
        List<byte[]> segments = air.Segments(Convert.ToHexString(payload), 100, 0x0003, 0x0005);
        for (int round = 0; round < 2; round++)
            for (int segO = 0; segO < segments.Count; segO++)
                air.Network(1_000 + (round * 700) + (segO * 60), false, 5, 100 + (uint)((round * 10) + segO), 0x0003, 0x0005, segments[segO]);
        var keys = new KeyArguments
        {
            NetKeys = [new TypedKey(0, new KeyOctets(AirBuilder.NetKey))], AppKeys = [new TypedKey(0, new KeyOctets(AirBuilder.AppKey))],
            DeviceKeys = [new TypedDeviceKey(new MeshAddress(3), new KeyOctets(DeviceKey))],
        };
        var analysis = new CaptureAnalysis(new AnalysisSettings { Keys = keys });
        analysis.Read(air.Frames);
        TransferTimeline timeline = Assert.Single(analysis.Complete().Timelines);
        Assert.True(timeline.SarHeard);
        Assert.Equal(400, timeline.Rounds[1].TimerMs);      // 200 + 50 x 4
        Assert.Equal(60, timeline.SegmentIntervalMs!.Value, 3);
    }
}
