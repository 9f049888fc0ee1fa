using MeshTrace.Screens.Views;

namespace MeshTrace.Tests.Screens.Views;

public sealed class DoorbellTests
{
    private static readonly TimeSpan Long = TimeSpan.FromMinutes(1);
    private readonly Doorbell _bell = new();

    [Fact]
    public void WorkIsDone_InItsOrder_AndOnce()
    {
        var done = new List<int>();
        _bell.Post(() => done.Add(1));
        _bell.Post(() => done.Add(2));
        Assert.True(_bell.DoWork());
        Assert.False(_bell.DoWork());
        Assert.Equal([1, 2], done);
    }

    [Fact]
    public void WorkThatLeavesWork_IsNotGoneRoundFor()
    {
        int done = 0;
        _bell.Post(Again);
        _bell.DoWork();
        Assert.Equal(1, done);
        _bell.Wait(Long);       // rung by the work itself: no waiting
        _bell.DoWork();
        Assert.Equal(2, done);

        void Again()
        {
            done++;
            _bell.Post(Again);
        }
    }

    [Fact]
    public void ARing_BeforeTheWaiting_IsNotLost() => AssertNoWait(_bell.Ring);

    [Fact]
    public void Work_BeforeTheWaiting_IsNotLost() => AssertNoWait(() => _bell.Post(() => { }));

    [Fact]
    public void ARing_WakesWhoWaits()
    {
        var waiting = new Thread(() => _bell.Wait(Timeout.InfiniteTimeSpan));
        waiting.Start();
        _bell.Ring();
        Assert.True(waiting.Join(Long));
    }

    [Fact]
    public void WithoutARing_TheWaitingEndsByItself_AndARingCountsOnce()
    {
        _bell.Ring();
        _bell.Wait(Long);
        var waiting = new Thread(() => _bell.Wait(TimeSpan.FromMilliseconds(1)));
        waiting.Start();
        Assert.True(waiting.Join(Long));
    }

    private void AssertNoWait(Action before)
    {
        before();
        var waiting = new Thread(() => _bell.Wait(Timeout.InfiniteTimeSpan));
        waiting.Start();
        Assert.True(waiting.Join(Long));
    }
}
