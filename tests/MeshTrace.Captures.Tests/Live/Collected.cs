using System.Diagnostics;
using MeshTrace.Captures.Live;
using MeshTrace.Captures.Tests.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Tests.Live;

/// <summary>An input that runs, and what it gave so far.</summary>
internal sealed class Collected : IDisposable
{
    private const int LongestWaitMs = 30_000;

    private readonly FrameQueue _queue = new();
    private readonly CancellationTokenSource _stop = new();
    private readonly LiveInput _input;

    public Collected(LiveInput input)
    {
        _input = input;
        input.Start(0, _queue, _stop.Token);
    }

    public List<ReadFrame> Frames { get; } = [];
    public List<ReceiverDescription> Receivers { get; } = [];
    public List<string> Notices { get; } = [];
    public List<byte> Text { get; } = [];
    public CaptureDamage? Damage { get; private set; }
    public string? Refused { get; private set; }
    public bool HasEnded { get; private set; }

    public void WaitForFrames(int count) => WaitUntil(() => Frames.Count >= count, $"{count} frames");

    public void WaitForEnd() => WaitUntil(() => HasEnded, "the end");

    public void WaitForNotice(string words) => WaitUntil(() => Notices.Exists(notice => notice.Contains(words, StringComparison.Ordinal)), words);

    public Collected Stop()
    {
        _stop.Cancel();
        WaitForEnd();
        return this;
    }

    public void Dispose()
    {
        _stop.Cancel();
        _queue.Close();
        _input.Join(TimeSpan.FromSeconds(5));
        _stop.Dispose();
    }

    private void WaitUntil(Func<bool> there, string what)
    {
        var clock = Stopwatch.StartNew();
        while (!there())
        {
            if (clock.ElapsedMilliseconds > LongestWaitMs)
                throw new TimeoutException($"{what} did not come; {Frames.Count} frames, {string.Join(" | ", Notices)}");
            _queue.TakeAll(Take, TimeSpan.FromMilliseconds(50));
        }
    }

    private void Take(LiveItem item)
    {
        switch (item.Kind)
        {
            case LiveItemKind.Frame:
                Frames.Add(ReadFrame.Of(item.Frame.Frame()));
                break;
            case LiveItemKind.Receiver when item.Receiver!.Index < Receivers.Count:
                Receivers[item.Receiver.Index] = item.Receiver;
                break;
            case LiveItemKind.Receiver:
                Assert.Equal(Receivers.Count, item.Receiver!.Index);
                Receivers.Add(item.Receiver);
                break;
            case LiveItemKind.Notice:
                Notices.Add(item.Says!);
                break;
            case LiveItemKind.Text:
                Text.AddRange(item.Text.ToArray());
                break;
            default:
                (HasEnded, Damage, Refused) = (true, item.Damage, item.Refused);
                break;
        }
    }
}
