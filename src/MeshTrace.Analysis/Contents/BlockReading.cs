using System.Collections.Concurrent;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Contents;

/// <summary>A block of frames that were read, and where the source stood behind them.</summary>
internal sealed class ReadBlock
{
    public FrameBlock Frames { get; } = new();

    /// <summary>Position of the source behind the last frame.</summary>
    public long Position { get; set; }

    /// <summary>Receivers known there, those of the source at hand.</summary>
    public IReadOnlyList<ReceiverDescription> Receivers { get; set; } = [];

    /// <summary>True if the source has no further frame.</summary>
    public bool IsLast { get; set; }
}

/// <summary>
/// Reads a source in blocks: by whoever asks for the next one, or ahead of them on a core of its own. The blocks are the same either way. A capture of one
/// block is not worth a second thread.
/// </summary>
internal sealed class BlockReading(IFrameSource source, bool ahead) : IDisposable
{
    /// <summary>Blocks read ahead, at most: memory stays small, and neither side waits for a hiccup of the other.</summary>
    private const int MostAhead = 4;

    private readonly BlockingCollection<ReadBlock> _read = new(MostAhead), _free = [];
    private readonly CancellationTokenSource _stop = new();
    private ReadBlock? _given;
    private Task? _reader;
    private int _untilBoundary = FrameBlock.MostFrames;

    /// <summary>The next block, valid until the next call; null at the end.</summary>
    public ReadBlock? Next()
    {
        if (_given is { IsLast: true })
            return null;
        if (_given is null || !ahead)
        {
            _given ??= new ReadBlock();
            Fill(_given, alone: !ahead);
            return _given;
        }
        if (_reader is null)
            Start();
        else
            _free.Add(_given);
        if (!_read.TryTake(out _given, Timeout.Infinite))
            _reader!.GetAwaiter().GetResult();      // tells why reading failed
        return _given;
    }

    /// <summary>Stops reading ahead; the source is free again.</summary>
    public void Dispose()
    {
        _stop.Cancel();
        if (_reader is not null)
            Task.WaitAny(_reader);      // however it ended
        _stop.Dispose();
        _read.Dispose();
        _free.Dispose();
    }

    private void Start()
    {
        for (int block = 0; block < MostAhead; block++)
            _free.Add(new ReadBlock());
        _reader = Task.Factory.StartNew(ReadAhead, CancellationToken.None, TaskCreationOptions.LongRunning, TaskScheduler.Default);
    }

    private void ReadAhead()
    {
        try
        {
            ReadBlock block;
            do
            {
                block = _free.Take(_stop.Token);
                Fill(block, alone: false);
                _read.Add(block, _stop.Token);
            }
            while (!block.IsLast);
        }
        catch (OperationCanceledException) when (_stop.IsCancellationRequested)
        {
            // nobody wants more
        }
        finally
        {
            _read.CompleteAdding();
        }
    }

    private void Fill(ReadBlock block, bool alone)
    {
        FrameBlock frames = block.Frames;
        frames.Clear();
        while (frames.TakesMore && _untilBoundary > 0)
        {
            if (!source.TryReadNext(out CapturedFrame frame))
            {
                block.IsLast = true;
                break;
            }
            FramePreparation.Add(in frame, frames);
            _untilBoundary--;
        }
        if (_untilBoundary == 0)
            _untilBoundary = FrameBlock.MostFrames;
        block.Position = source.Position;
        // Descriptions of their own, where the reader may change them meanwhile.
        block.Receivers = alone ? source.Receivers : [.. source.Receivers.Select(receiver => receiver with { })];
    }
}
