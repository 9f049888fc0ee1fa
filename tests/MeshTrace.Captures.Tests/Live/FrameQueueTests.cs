using MeshTrace.Captures.Live;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Tests.Live;

/// <summary>The bounded queue: nothing is lost of what can wait, and what is lost of what cannot is counted.</summary>
public sealed class FrameQueueTests
{
    [Fact]
    public void TheAir_LosesWhatASlowConsumerDoesNotTake_AndItIsCounted()
    {
        var queue = new FrameQueue(mostFrames: 10);
        for (int at = 0; at < 25; at++)
            Assert.True(Put(queue, at, waits: false));
        Assert.Equal((10, 15L), (queue.Waiting, queue.Lost));
        Assert.Equal(Enumerable.Range(0, 10), Taken(queue));
        Put(queue, 99, waits: false);
        Assert.Equal([99], Taken(queue));
        Assert.Equal(15, queue.Lost);
    }

    [Fact]
    public void OctetsAreBounded_ButALongFrameAlone_FindsRoom()
    {
        var queue = new FrameQueue(mostFrames: 100, mostOctets: 50);
        Assert.True(Put(queue, 1, waits: false, length: 80));
        Put(queue, 2, waits: false, length: 1);
        Assert.Equal((1, 1L), (queue.Waiting, queue.Lost));
        Taken(queue);
        for (int at = 0; at < 7; at++)
            Put(queue, at, waits: false, length: 10);
        Assert.Equal(5, queue.Waiting);
    }

    [Fact]
    public void AFile_WaitsForASlowConsumer_AndNothingIsLost()
    {
        var queue = new FrameQueue(mostFrames: 3);
        var writer = new Thread(() =>
        {
            for (int at = 0; at < 500; at++)
                Put(queue, at, waits: true);
        });
        writer.Start();
        var taken = new List<int>();
        while (taken.Count < 500)
        {
            List<int> some = Taken(queue);
            Assert.InRange(some.Count, 0, 3);
            taken.AddRange(some);
        }
        writer.Join();
        Assert.Equal(Enumerable.Range(0, 500), taken);
        Assert.Equal(0, queue.Lost);
    }

    [Fact]
    public void Closing_LetsGoWhoWaits()
    {
        var queue = new FrameQueue(mostFrames: 1);
        Put(queue, 0, waits: true);
        bool? told = null;
        var writer = new Thread(() => told = Put(queue, 1, waits: true));
        writer.Start();
        queue.Close();
        writer.Join();
        Assert.False(told);
        Assert.Equal([0], Taken(queue));
    }

    [Fact]
    public void WhatIsNoFrame_AlwaysFindsRoom_InItsOrder()
    {
        var queue = new FrameQueue(mostFrames: 1);
        Put(queue, 0, waits: false);
        queue.Put(new LiveItem { Kind = LiveItemKind.Notice, Says = "one" });
        var kinds = new List<LiveItemKind>();
        queue.TakeAll(item => kinds.Add(item.Kind), TimeSpan.Zero);
        Assert.Equal([LiveItemKind.Frame, LiveItemKind.Notice], kinds);
    }

    private static bool Put(FrameQueue queue, int number, bool waits, int length = 4)
    {
        byte[] octets = new byte[length];
        return queue.Put(0, new CapturedFrame { Receiver = 0, LinkType = LinkType.LeLinkLayer, TimeNs = number, FileOffset = 0, OriginalLength = length, Octets = octets }, 0, waits);
    }

    private static List<int> Taken(FrameQueue queue)
    {
        var numbers = new List<int>();
        queue.TakeAll(item => numbers.Add((int)item.Frame.Frame().TimeNs), TimeSpan.Zero);
        return numbers;
    }
}
