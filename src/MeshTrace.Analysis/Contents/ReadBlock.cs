using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Contents;

/// <summary>A block of frames that were read, and where the source stood behind them.</summary>
/// <param name="memory">Gives the rows of whole blocks.</param>
internal sealed class ReadBlock(TableMemory memory)
{
    /// <summary>Frames as they were read, while they are not prepared yet; only where several cores read.</summary>
    private readonly RawFrames _raw = new();

    public FrameBlock Frames { get; } = new(memory);

    /// <summary>Position of the source behind the last frame.</summary>
    public long Position { get; private set; }

    /// <summary>Receivers known there, those of the source at hand.</summary>
    public IReadOnlyList<ReceiverDescription> Receivers { get; private set; } = [];

    /// <summary>True if the source has no further frame.</summary>
    public bool IsLast { get; private set; }

    /// <summary>Why reading or preparing failed in this block, or null: told to whoever takes it, which may be on another thread.</summary>
    public Exception? Failure { get; private set; }

    /// <summary>Reads frames and prepares each at once.</summary>
    public void ReadPrepared(IFrameSource source)
    {
        Frames.Clear();
        long octets = 0;
        while (Frames.Count < FrameBlock.MostFrames && octets < FrameBlock.EnoughOctets && TryRead(source, out CapturedFrame frame))
        {
            FramePreparation.Add(in frame, Frames);
            octets += frame.Octets.Length;
        }
        Position = source.Position;
        Receivers = source.Receivers;
    }

    /// <summary>Reads the same frames, to be prepared later, perhaps while the source reads on.</summary>
    public void Read(IFrameSource source)
    {
        _raw.Clear();
        IsLast = false;
        long octets = 0;
        try
        {
            while (_raw.Count < FrameBlock.MostFrames && octets < FrameBlock.EnoughOctets && TryRead(source, out CapturedFrame frame))
            {
                _raw.Add(in frame);
                octets += frame.Octets.Length;
            }
            Position = source.Position;
            // Descriptions of their own, as the reader may change them meanwhile.
            Receivers = [.. source.Receivers.Select(receiver => receiver with { })];
        }
        catch (Exception failure)
        {
            Failure = failure;
            IsLast = true;
        }
    }

    /// <summary>Prepares what was read.</summary>
    public void Prepare()
    {
        Frames.Clear();
        if (Failure is not null)
            return;
        try
        {
            for (int number = 0; number < _raw.Count; number++)
            {
                _raw.Get(number, out CapturedFrame frame);
                FramePreparation.Add(in frame, Frames);
            }
        }
        catch (Exception failure)
        {
            Failure = failure;
        }
    }

    private bool TryRead(IFrameSource source, out CapturedFrame frame)
    {
        if (source.TryReadNext(out frame))
            return true;
        IsLast = true;
        return false;
    }
}
