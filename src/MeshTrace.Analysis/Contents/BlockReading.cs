using System.Runtime.ExceptionServices;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Contents;

/// <summary>
/// Reads a source in blocks and gives them in their order, the same on any number of cores. On several, a thread of its own reads and prepares ahead, and
/// whoever waits for a block meanwhile reads and prepares one too: frames are read by one at a time, blocks are prepared side by side. A source whose
/// length is not known may be a pipe that lets its reader wait: only the thread of its own reads that one, so that a block that is there is given at once.
/// </summary>
/// <param name="source">Read to its end.</param>
/// <param name="memory">Gives the rows of whole blocks.</param>
/// <param name="ahead">On several cores.</param>
internal sealed class BlockReading(IFrameSource source, TableMemory memory, bool ahead) : IDisposable
{
    /// <summary>Blocks at work or waiting, at most: memory stays small, and neither side waits for a hiccup of the other.</summary>
    private const int MostBlocks = 5;

    /// <summary>Looks before a thread goes to sleep: what it waits for is mostly there within some microseconds.</summary>
    private const int MostSpins = 30;

    private readonly ReadBlock[] _blocks = new ReadBlock[MostBlocks];
    private readonly bool[] _isReady = new bool[MostBlocks];

    /// <summary>Guards what follows and <see cref="_isReady"/>; pulsed at each change.</summary>
    private readonly object _gate = new();

    /// <summary>Blocks begun, and given back after they were taken.</summary>
    private long _begun, _done;
    private bool _isReading, _atEnd, _stopped, _gave;
    private Thread? _helper;

    /// <summary>True if whoever waits for a block may read one. Before there is another thread, it must.</summary>
    private bool _helps = true;

    /// <summary>The next block, valid until the next call; null at the end.</summary>
    public ReadBlock? Next()
    {
        if (!ahead)
            return NextAlone();
        GiveBack();
        var spin = new SpinWait();
        while (true)
        {
            lock (_gate)
            {
                if (IsNextReady)
                    return Give(_blocks[_done % MostBlocks]);
                if (IsOver)
                    return null;
            }
            if (_helps && TryWork())
                continue;
            if (spin.Count < MostSpins)
            {
                spin.SpinOnce(sleep1Threshold: -1);
                continue;
            }
            lock (_gate)
                while (!IsNextReady && !IsOver && !(_helps && MayWork))
                    Monitor.Wait(_gate);
        }
    }

    /// <summary>Stops reading ahead; the source is free again.</summary>
    public void Dispose()
    {
        lock (_gate)
        {
            _stopped = true;
            Monitor.PulseAll(_gate);
        }
        _helper?.Join();
    }

    // To be asked under the gate.

    private bool IsNextReady => _done < _begun && _isReady[_done % MostBlocks];

    private bool IsOver => _atEnd && _done == _begun;

    /// <summary>A free block, and nobody else reading.</summary>
    private bool MayWork => !_isReading && !_atEnd && !_stopped && _begun - _done < MostBlocks;

    private ReadBlock? NextAlone()
    {
        ReadBlock block = _blocks[0] ??= new ReadBlock(memory);
        if (block.IsLast)
            return null;
        block.ReadPrepared(source);
        return block;
    }

    private void GiveBack()
    {
        if (!_gave)
            return;
        _gave = false;
        lock (_gate)
        {
            _isReady[_done % MostBlocks] = false;
            _done++;
            Monitor.PulseAll(_gate);
        }
        // A capture of one block is not worth a second thread.
        if (_helper is null && !_atEnd)
        {
            _helps = source.Length is not null;
            _helper = new Thread(Help) { IsBackground = true, Name = "reading ahead" };
            _helper.Start();
        }
    }

    private ReadBlock Give(ReadBlock block)
    {
        if (block.Failure is { } failure)
            ExceptionDispatchInfo.Throw(failure);
        _gave = true;
        return block;
    }

    private void Help()
    {
        var spin = new SpinWait();
        while (true)
        {
            if (TryWork())
            {
                spin.Reset();
                continue;
            }
            if (spin.Count < MostSpins)
                spin.SpinOnce(sleep1Threshold: -1);
            lock (_gate)
            {
                if (_atEnd || _stopped)
                    return;
                if (spin.Count >= MostSpins && !MayWork)
                    Monitor.Wait(_gate);
            }
        }
    }

    /// <summary>Reads and prepares one block, if there is a free one and nobody else is reading.</summary>
    private bool TryWork()
    {
        long number;
        lock (_gate)
        {
            if (!MayWork)
                return false;
            _isReading = true;
            number = _begun++;
        }
        ReadBlock block = _blocks[number % MostBlocks] ??= new ReadBlock(memory);
        block.Read(source);
        lock (_gate)
        {
            _isReading = false;
            _atEnd |= block.IsLast;
            Monitor.PulseAll(_gate);
        }
        block.Prepare();
        lock (_gate)
        {
            _isReady[number % MostBlocks] = true;
            Monitor.PulseAll(_gate);
        }
        return true;
    }
}
