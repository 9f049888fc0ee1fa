using MeshTrace.Analysis.History;
using MeshTrace.Synthesis.Load;

namespace MeshTrace.Analysis.Tests.Work;

/// <summary>
/// What an analysis costs, in work that is counted and not in time, so that no other load on the machine can fail it. The limits stand close above what
/// is needed today (common practice, no source): a change that needs more has to say so here.
/// </summary>
public class WorkCountTests
{
    /// <summary>One row of 32 octets, in chunks; the rest is the chunk that is not full, and what an empty analysis needs.</summary>
    [Fact]
    public void FrameWithoutMeshContent_CostsItsRow()
    {
        CountedAnalysis few = new(new LoadPlan { Frames = 40_000, UnrelatedShare = 1 }), many = new(new LoadPlan { Frames = 120_000, UnrelatedShare = 1 });
        Assert.InRange((many.AllocatedOctets - few.AllocatedOctets) / 80_000.0, 32, 33.5);
    }

    /// <summary>Everything that is allocated from the first octet to the findings, the tables among it.</summary>
    [Fact]
    public void WholeAnalysis_AllocatesInProportion()
    {
        CountedAnalysis few = new(new LoadPlan { Frames = 50_000 }), many = new(new LoadPlan { Frames = 150_000 });
        Assert.InRange((many.AllocatedOctets - few.AllocatedOctets) / 100_000.0, 60, 77);
    }

    /// <summary>The aim is 48 octets a frame with what the findings keep; these are the tables.</summary>
    [Fact]
    public void TablesKeep_FewOctetsAFrame()
    {
        CaptureHistory history = new CountedAnalysis(new LoadPlan { Frames = 150_000 }).History;
        Assert.InRange(history.TableOctets / (double)history.Frames.Count, 32, 45);
    }

    /// <summary>One try a distinct Network PDU whose network is known; one more for each other network with the same NID, which is rare.</summary>
    [Fact]
    public void DistinctPdu_IsTriedOnce()
    {
        CountedAnalysis counted = new(new LoadPlan { Frames = 30_000 });
        Assert.InRange(counted.History.NetworkTries / (double)counted.History.OpenedNetworkPdus, 1, 1.02);
    }

    /// <summary>The receiver's eye looks at each silent element of a press once, and at nobody else.</summary>
    [Fact]
    public void ReceiversEye_LooksAtEachSilentElementOnce()
    {
        CaptureHistory history = new CountedAnalysis(new LoadPlan { Frames = 60_000 }).History;
        long silent = history.Presses.Sum(press => press.Expected!.Except(press.Answers.Select(answer => answer.Element)).LongCount());
        Assert.InRange(history.EyeLooks, 1, silent);
        Assert.InRange(silent / (double)history.Presses.Count, 1, 9);
    }

    /// <summary>Of one panel that presses again and again without an answer: twice the presses cost twice the work, not four times.</summary>
    [Fact]
    public void ManyPressesOfOnePanel_CostInProportion()
    {
        LoadPlan plan = new() { Frames = 10_000, Networks = 1, ForeignNetworks = 0, NodesPerNetwork = 10, UnrelatedShare = 0, CopiesPerFlood = 1 };
        long few = new CountedAnalysis(plan).AllocatedOctets, many = new CountedAnalysis(plan with { Frames = 20_000 }).AllocatedOctets;
        Assert.InRange(many / (double)few, 1.5, 2.2);
    }
}
