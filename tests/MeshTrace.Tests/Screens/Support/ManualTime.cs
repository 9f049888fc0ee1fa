namespace MeshTrace.Tests.Screens.Support;

/// <summary>Time that passes only when it is told to.</summary>
internal sealed class ManualTime : TimeProvider
{
    private long _ticks;

    public override long TimestampFrequency => TimeSpan.TicksPerSecond;

    public override long GetTimestamp() => _ticks;

    public void Pass(TimeSpan time) => _ticks += time.Ticks;
}
