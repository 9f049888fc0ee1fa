using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Tests.Support;

namespace MeshTrace.Analysis.Tests.Findings.Press;

/// <summary>A relay at 0x0005 between nodes whose originals are heard too: how late it sends on, how many others do.</summary>
public sealed class RelayFindingTests
{
    [Theory]
    [InlineData(15, 15, false)]         // quick, always
    [InlineData(15, 420, true)]         // quick, but one in eight very late
    [InlineData(300, 320, false)]       // slow, always: it is set so
    public void ARelayThatFallsBehind_IsQuickAsARule(double usualMs, double lateMs, bool found)
    {
        var air = new AirBuilder();
        for (int flood = 0; flood < 120; flood++)
        {
            Original(air, flood);
            double delay = flood % 8 == 7 ? lateMs : usualMs;
            air.Access((flood * 5_000) + delay, 4, (uint)(100 + flood), 0x0003, 0xC001, $"820301{flood:x2}", advertiser: 0xC0DE00000005);
            RelaysOwn(air, flood);
        }
        Finding[] findings = [.. air.Analyse().Findings.Where(finding => finding.Id == "node-falls-behind")];
        Assert.Equal(found, findings.Length == 1);
        Assert.All(findings, finding => Assert.Equal((Confidence.Possible, (ushort)0x0005), (finding.Confidence, finding.Node!.Value.Value)));
    }

    [Theory]
    [InlineData(4, 0, false)]
    [InlineData(9, 0, true)]
    [InlineData(9, 1, false)]       // an address that changes with every PDU counts for nobody
    public void ManyRelaysAtOnePlace_CrowdTheAir(int relays, int change, bool found)
    {
        var air = new AirBuilder();
        for (int flood = 0; flood < 60; flood++)
        {
            Original(air, flood);
            for (int relay = 0; relay < relays; relay++)
                air.Access((flood * 5_000) + 20 + (relay * 9), 4, (uint)(100 + flood), 0x0003, 0xC001, $"820301{flood:x2}", advertiser: (ulong)(0xC0DE00001000 + relay + (change * flood * 100)));
        }
        Assert.Equal(found, air.Analyse().Findings.Any(finding => finding.Id == "relay-crowding"));
    }

    [Theory]
    [InlineData(900, true)]         // long after its burst: the original came by again, and it had forgotten it
    [InlineData(45, false)]         // the burst itself
    public void ARelayThatSendsTheSameAgain_AfterAPause_HadForgottenIt(double laterMs, bool found)
    {
        var air = new AirBuilder();
        for (int flood = 0; flood < 60; flood++)
        {
            Original(air, flood);
            air.Access((flood * 5_000) + 15, 4, (uint)(100 + flood), 0x0003, 0xC001, $"820301{flood:x2}", advertiser: 0xC0DE00000005);
            if (flood % 6 == 5)
                air.Access((flood * 5_000) + 15 + laterMs, 4, (uint)(100 + flood), 0x0003, 0xC001, $"820301{flood:x2}", advertiser: 0xC0DE00000005);
            RelaysOwn(air, flood);
        }
        Finding[] findings = [.. air.Analyse().Findings.Where(finding => finding.Id == "relayed-again")];
        Assert.Equal(found, findings.Length == 1);
        Assert.All(findings, finding => Assert.Equal((10, (ushort)0x0005), (finding.Evidence.Count, finding.Node!.Value.Value)));
    }

    private static void Original(AirBuilder air, int flood) => air.Access(flood * 5_000, 5, (uint)(100 + flood), 0x0003, 0xC001, $"820301{flood:x2}");

    /// <summary>The relay's own messages tell its address; with those of a third node they tell the TTL that nodes here start with.</summary>
    private static void RelaysOwn(AirBuilder air, int flood)
    {
        if (flood % 3 != 0)
            return;
        air.Access((flood * 5_000) + 2_000, 5, (uint)(900 + flood), 0x0005, 0xC0F0, "820401");
        air.Access((flood * 5_000) + 3_000, 5, (uint)(900 + flood), 0x0009, 0xC0F0, "820401");
    }
}
