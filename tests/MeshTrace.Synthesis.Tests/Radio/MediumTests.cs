using MeshTrace.Protocol.Link;
using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Tests.Radio;

/// <summary>One listener, one or two senders at told strengths.</summary>
public class MediumTests
{
    private sealed class Ear : IListener
    {
        public List<string> Got { get; } = [];

        public void Hear(Transmission packet, int rssiDbm) => Got.Add($"{packet.From.Name}/{packet.Channel}");

        public void Miss(Transmission packet, int rssiDbm, Missed reason) => Got.Add($"{packet.From.Name}/{packet.Channel} {reason}");
    }

    private readonly Timeline _time = new();
    private readonly Ear _ear = new();
    private readonly Medium _medium;
    private readonly Station _listener, _near, _far;

    public MediumTests()
    {
        _medium = new Medium(_time, new Randomness(1), fadingDb: 0);
        _listener = Add("listener", ScanPlan.AllThree);
        _listener.Listener = _ear;
        _near = Add("near", default);
        _far = Add("far", default);
    }

    private Station Add(string name, ScanPlan scan)
    {
        var station = new Station(_medium.Stations.Count, name, default) { Scan = scan, SensitivityDbm = -90 };
        _medium.Add(station);
        return station;
    }

    private void Settle(int nearDbm, int farDbm) =>
        _medium.Settle((from, to) => (from == _near ? nearDbm : from == _far ? farDbm : -200, 0));

    private void Send(Station from, int channel, long atUs) => _time.At(atUs, () => _medium.Send(
        new AdvertisingEvent { From = from, Advertiser = 1, AdvertiserIsRandom = true, PduType = AdvertisingPduType.AdvNonconnInd,
            AdvData = new byte[20] }, [channel], 0));

    [Theory]
    [InlineData(-60, -60, 0, "near/37 Collided,far/37 Collided")]
    [InlineData(-60, -69, 0, "near/37,far/37 Collided")]          // 9 dB apart: the stronger one survives
    [InlineData(-60, -67, 0, "near/37 Collided,far/37 Collided")]
    [InlineData(-60, -60, 287, "near/37 Collided,far/37 Collided")]   // the last microsecond of 288 still overlaps
    [InlineData(-60, -60, 288, "near/37,far/37")]
    public void Overlap_IsACollisionUnlessOneIsMuchStronger(int nearDbm, int farDbm, long laterUs, string got)
    {
        Settle(nearDbm, farDbm);
        Send(_near, 37, 1000);
        Send(_far, 37, 1000 + laterUs);
        _time.RunUntil(10_000);
        Assert.Equal(got, string.Join(',', _ear.Got));
    }

    [Fact]
    public void OtherChannel_DoesNotDisturb()
    {
        Settle(-60, -60);
        Send(_near, 37, 1000);
        Send(_far, 38, 1000);
        _time.RunUntil(10_000);
        Assert.Equal(["near/37", "far/38"], _ear.Got);
    }

    [Fact]
    public void WeakerThanTheSensitivity_IsMissed()
    {
        Settle(-90, -91);
        Send(_near, 37, 1000);
        Send(_far, 37, 3000);
        _time.RunUntil(10_000);
        Assert.Equal(["near/37", "far/37 Weak"], _ear.Got);
    }

    [Fact]
    public void WhileTransmitting_NothingIsHeard()
    {
        Settle(-60, -60);
        Send(_listener, 39, 1100);
        Send(_near, 37, 1000);
        Send(_far, 37, 1600);
        _time.RunUntil(10_000);
        Assert.Equal(["near/37 Transmitting", "far/37"], _ear.Got);
    }

    [Fact]
    public void Interference_DisturbsWithoutBeingHeard()
    {
        Settle(-60, -55);
        _time.At(900, () => _medium.Disturb(_far, 37, 150));
        Send(_near, 37, 1000);
        Send(_near, 37, 2000);
        _time.RunUntil(10_000);
        Assert.Equal(["near/37 Collided", "near/37"], _ear.Got);
    }

    [Fact]
    public void WithoutPower_NothingIsHeard()
    {
        Settle(-60, -60);
        _listener.On = false;
        Send(_near, 37, 1000);
        _time.RunUntil(10_000);
        Assert.Empty(_ear.Got);
    }
}
