using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Tests.Radio;

public class TimelineTests
{
    [Fact]
    public void SameMoment_ComesOutInTheOrderOfEntry()
    {
        var heap = new MomentHeap<int>();
        var random = new Randomness(5);
        var entered = Enumerable.Range(0, 2000).Select(i => (Time: random.Below(50), Item: i)).ToList();
        entered.ForEach(entry => heap.Add(entry.Time, entry.Item));
        var left = new List<int>();
        while (heap.Count > 0)
            left.Add(heap.TakeFirst());
        Assert.Equal(entered.OrderBy(entry => entry.Time).Select(entry => entry.Item), left);
    }

    [Fact]
    public void CancelledAlarm_DoesNotHappen_AndTheClockStopsAtTheEnd()
    {
        var time = new Timeline();
        var happened = new List<long>();
        time.At(10, () => happened.Add(time.NowUs));
        time.At(20, () => happened.Add(time.NowUs)).Cancelled = true;
        time.At(101, () => happened.Add(time.NowUs));
        time.RunUntil(100);
        Assert.Equal([10], happened);
        Assert.Equal(100, time.NowUs);
    }
}
