using MeshTrace.Datasets;

namespace MeshTrace.Tests.Datasets;

/// <summary>When a partition that was made once serves.</summary>
public sealed class CaptureStampTests
{
    private static readonly CaptureStamp Stamp = new()
    {
        Capture = "north/monday.pcapng", Size = 4711, Modified = new DateTime(2026, 3, 2, 18, 0, 0, DateTimeKind.Utc).AddTicks(1234567), Network = "monday.network.json", NetworkSize = 815,
        NetworkModified = new DateTime(2026, 3, 1, 12, 0, 0, DateTimeKind.Utc), Program = "1.2.3", Tables = ["press", "node"],
    };

    [Fact]
    public void WrittenAndReadBack_IsTheSame()
    {
        using var file = new MemoryStream();
        Stamp.Write(file, "decoded");
        CaptureStamp read = CaptureStamp.Read(file.ToArray(), out string? result)!;
        Assert.Equal("decoded", result);
        Assert.True(read.Serves(Stamp));
        Assert.True(Stamp.Serves(read));
    }

    [Fact]
    public void WithoutDescription_IsReadBackToo()
    {
        CaptureStamp bare = Stamp with { Network = null, NetworkSize = null, NetworkModified = null };
        using var file = new MemoryStream();
        bare.Write(file, "damaged");
        Assert.True(CaptureStamp.Read(file.ToArray(), out _)!.Serves(bare));
        Assert.False(bare.Serves(Stamp));
    }

    [Fact]
    public void AnyChange_MakesItServeNoMore()
    {
        Assert.All((CaptureStamp[])
        [
            Stamp with { Capture = "monday.pcapng" }, Stamp with { Size = 4712 }, Stamp with { Modified = Stamp.Modified.AddTicks(1) }, Stamp with { Network = "network.json" }, Stamp with { NetworkSize = 816 },
            Stamp with { NetworkModified = Stamp.Modified }, Stamp with { Program = "1.2.4" }, Stamp with { Tables = ["press", "node", "frame"] },
        ], now => Assert.False(Stamp.Serves(now)));
        Assert.True(Stamp.Serves(Stamp with { Tables = ["node"] }));
    }
}
