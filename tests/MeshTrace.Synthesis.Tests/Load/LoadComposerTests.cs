using System.Text.Json;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Security;
using MeshTrace.Synthesis.Load;

namespace MeshTrace.Synthesis.Tests.Load;

public class LoadComposerTests
{
    private static readonly LoadPlan Plan = new() { Frames = 20_000, Seed = 9 };

    private static (LoadSummary Summary, byte[] Capture, JsonElement Description) Make(LoadPlan plan)
    {
        using MemoryStream capture = new(), description = new();
        LoadSummary summary = LoadComposer.WriteCapture(plan, capture);
        LoadComposer.WriteDescription(plan, description);
        return (summary, capture.ToArray(), JsonDocument.Parse(description.ToArray()).RootElement);
    }

    [Fact]
    public void EqualPlans_EqualOctets()
    {
        Assert.Equal(Make(Plan).Capture, Make(Plan).Capture);
        Assert.NotEqual(Make(Plan).Capture, Make(Plan with { Seed = 10 }).Capture);
    }

    [Fact]
    public void Frames_AreAsManyAsPlannedInOrderOfTimeAndDecrypt()
    {
        var (summary, capture, description) = Make(Plan);
        var keys = description.GetProperty("netKeys").EnumerateArray().Select(key =>
            new NetKeyMaterial(Convert.FromHexString(key.GetProperty("key").GetString()!)).Flooding).ToList();
        long frames = 0, mesh = 0, last = long.MinValue;
        var distinct = new HashSet<string>();
        var floods = new HashSet<(int, ushort, uint)>();
        Span<byte> clear = stackalloc byte[NetworkSecurity.LongestPdu];
        using IFrameSource source = CaptureFile.Open(new MemoryStream(capture), "load");
        while (source.TryReadNext(out CapturedFrame frame))
        {
            frames++;
            Assert.True(frame.TimeNs >= last);
            last = frame.TimeNs;
            int position = 0;
            Assert.True(LinkReader.TryReadNext(frame, ref position, out Advertisement advertisement));
            Assert.Equal(CrcCheck.Ok, advertisement.Crc);
            var structures = new AdStructureReader(advertisement.AdvData);
            while (structures.MoveNext())
            {
                if (structures.Type != AdType.MeshMessage)
                    continue;
                mesh++;
                distinct.Add(Convert.ToHexString(structures.Data));
                for (int i = 0; i < keys.Count; i++)
                {
                    if (NetworkSecurity.TryDecrypt(structures.Data, keys[i], 5, clear, out int length)
                        && ClearNetworkPdu.TryRead(clear[..length], out var pdu, out _))
                        floods.Add((i, pdu.Src.Value, pdu.Seq));
                }
            }
        }
        Assert.Equal(Plan.Frames, frames);
        Assert.Equal(summary.MeshFrames, mesh);
        Assert.Equal(frames, summary.MeshFrames + summary.BeaconFrames + summary.UnrelatedFrames);
        Assert.Equal(capture.Length, summary.Octets);
        // PDUs made but not yet due when the capture ends are counted as made: a few at the end.
        Assert.InRange(floods.Count, summary.KnownFloods - 40, summary.KnownFloods);
        Assert.InRange(distinct.Count, summary.DistinctPdus - 150, summary.DistinctPdus);
        Assert.InRange(summary.UnrelatedFrames / (double)frames, 0.67, 0.73);
        Assert.InRange(mesh / (double)summary.Floods, 6.5, 9.5);
    }

    [Theory]
    [InlineData(1.0, 0, 0)]
    [InlineData(0.0, 1, 0)]
    [InlineData(0.5, 0, 3)]
    public void Extremes_AreMade(double unrelated, int networks, int foreign)
    {
        var (summary, _, description) =
            Make(new LoadPlan { Frames = 3000, UnrelatedShare = unrelated, Networks = networks, ForeignNetworks = foreign });
        Assert.Equal(3000, summary.MeshFrames + summary.BeaconFrames + summary.UnrelatedFrames);
        Assert.Equal(networks, description.GetProperty("netKeys").GetArrayLength());
        Assert.Equal(unrelated == 0, summary.UnrelatedFrames == 0);
        Assert.Equal(unrelated == 1, summary.MeshFrames == 0);
    }

    [Fact]
    public void AThousandNetworks_KeepTheShares()
    {
        var (summary, _, description) = Make(Plan with { Networks = 1000, NodesPerNetwork = 10, ForeignNetworks = 0, Frames = 50_000 });
        Assert.Equal(1000, description.GetProperty("netKeys").GetArrayLength());
        Assert.Equal(10_000, description.GetProperty("nodes").GetArrayLength());
        Assert.InRange(summary.BeaconFrames, 500, 2100);
        Assert.InRange(summary.UnrelatedFrames / 50_000.0, 0.65, 0.75);
    }

    [Fact]
    public void AppKeysSharingAid_HaveTheAidOfTheFirst()
    {
        var keys = Make(Plan with { Frames = 10, AppKeysSharingAid = 6 }).Description.GetProperty("appKeys").EnumerateArray()
            .Select(key => new AppKeyMaterial(Convert.FromHexString(key.GetProperty("key").GetString()!)).Aid).ToList();
        Assert.Equal(10, keys.Count);
        Assert.All(keys.Skip(4), aid => Assert.Equal(keys[0], aid));
    }

    [Fact]
    public void CopiesPerFlood_OneMakesEveryFrameDistinct()
    {
        var (summary, _, _) = Make(Plan with { CopiesPerFlood = 1, UnrelatedShare = 0, ForeignNetworks = 0 });
        Assert.Equal(1, summary.DistinctPdus / (double)summary.Floods);
    }
}
