using System.Diagnostics.CodeAnalysis;
using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Live;

/// <summary>
/// Saves what is received, as it comes: frames of all inputs as one pcapng file, the lines of a text log as they are. When the disk is full or the file cannot be
/// written, it says so once, leaves what was written whole, and lets go: receiving does not depend on it.
/// </summary>
public sealed class KeptCapture : IDisposable
{
    /// <summary>Octets that are written at once, so that memory stays small between two flushes.</summary>
    private const int LargestPending = 1 << 20;

    private readonly MemoryStream _pending = new();
    private readonly string? _application;
    private Stream? _file;
    private ExcerptWriter? _writer;
    private bool _isText;

    private KeptCapture(Stream file, string name, string? application) => (_file, Name, _application) = (file, name, application);

    /// <summary>The file's name.</summary>
    public string Name { get; }

    /// <summary>Frames, or lines' octets, that are in the file.</summary>
    public long Kept { get; private set; }

    /// <summary>Frames that have no form in the file: without a time, or of another kind than the first one.</summary>
    public long NotKept { get; private set; }

    /// <summary>Why nothing is saved any more, or null.</summary>
    public string? Problem { get; private set; }

    /// <summary>True if the file holds the lines of a text log.</summary>
    public bool IsText => _isText;

    /// <summary>Opens the file, in the place of what is there.</summary>
    /// <exception cref="IOException">It cannot be written.</exception>
    /// <exception cref="UnauthorizedAccessException">It may not be written.</exception>
    [SuppressMessage("Reliability", "CA2000", Justification = "Owned by what is returned.")]
    public static KeptCapture Create(string file, string? application = null) =>
        new(new FileStream(file, FileMode.Create, FileAccess.Write, FileShare.ReadWrite | FileShare.Delete, bufferSize: 0), file, application);

    /// <summary>As <see cref="Create"/>, into a stream that is then owned.</summary>
    public static KeptCapture Into(Stream stream, string name, string? application = null) => new(stream, name, application);

    /// <summary>Saves a receiver.</summary>
    /// <param name="receiver">Numbered over all inputs, in order; of one that is known already nothing is written.</param>
    public void Describe(ReceiverDescription receiver)
    {
        if (_file is null || _isText)
            return;
        _writer ??= new ExcerptWriter(_pending, [], _application);
        _writer.Add(receiver);
    }

    /// <summary>Saves a frame, of a receiver that was described.</summary>
    public void Take(in CapturedFrame frame)
    {
        if (_file is null || (frame.LinkType == LinkType.TextLog && _isText))
            return;
        if (_writer is null || !_writer.Write(in frame))
        {
            NotKept++;
            return;
        }
        if (_pending.Length >= LargestPending)
            Flush();
    }

    /// <summary>Saves lines of a text log; only where nothing else was saved.</summary>
    public void Take(ReadOnlySpan<byte> text)
    {
        if (_file is null || _writer is { Written: > 0 })
            return;
        if (!_isText)
        {
            _isText = true;
            _writer?.Dispose();
            _writer = null;
            _pending.SetLength(0);
        }
        _pending.Write(text);
        if (_pending.Length >= LargestPending)
            Flush();
    }

    /// <summary>Writes what came since the last time. The file is then whole.</summary>
    public void Flush()
    {
        if (_file is null || _pending.Length == 0)
            return;
        long before = _file.CanSeek ? _file.Position : 0;
        try
        {
            _file.Write(_pending.GetBuffer().AsSpan(0, (int)_pending.Length));
            _file.Flush();
            Kept = _isText ? Kept + _pending.Length : _writer?.Written ?? 0;
            _pending.SetLength(0);
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException)
        {
            Problem = problem.Message.TrimEnd('.');
            LetGo(before);
        }
    }

    /// <summary>Tells what the receivers' recorders lost, writes the rest and closes the file.</summary>
    /// <param name="receivers">As described.</param>
    /// <param name="timeNs">Time of the last frame.</param>
    public void Finish(IEnumerable<ReceiverDescription> receivers, long timeNs)
    {
        ArgumentNullException.ThrowIfNull(receivers);
        if (_writer is { } writer && timeNs >= 0)
        {
            foreach (ReceiverDescription receiver in receivers)
                writer.WriteDropped(receiver, timeNs);
        }
        Dispose();
    }

    public void Dispose()
    {
        Flush();
        _writer?.Dispose();
        _writer = null;
        Stream? file = _file;
        _file = null;
        try
        {
            file?.Dispose();
        }
        catch (IOException problem)
        {
            Problem ??= problem.Message.TrimEnd('.');
        }
        _pending.Dispose();
    }

    /// <summary>Half a record would make the file a damaged one.</summary>
    private void LetGo(long whole)
    {
        Stream file = _file!;
        _file = null;
        try
        {
            if (file.CanSeek)
                file.SetLength(whole);
            file.Dispose();
        }
        catch (Exception problem) when (problem is IOException or UnauthorizedAccessException or NotSupportedException)
        {
            // the first problem is the one to tell
        }
    }
}
