namespace MeshTrace.Captures.Files;

/// <summary>A file that cannot be opened as a capture. Damage further on never throws: see
/// <see cref="MeshTrace.Protocol.Link.IFrameSource.Damage"/>.</summary>
/// <remarks><see cref="Exception.Message"/> is one sentence for the user: what is wrong, where, and what to do.</remarks>
public sealed class CaptureFormatException : Exception
{
    public CaptureFormatException(string file, CaptureFault fault, long offset, string expected, string message, Exception? inner = null)
        : base(message, inner)
    {
        File = file;
        Fault = fault;
        Offset = offset;
        Expected = expected;
    }

    /// <summary>The file's name as the user gave it, "-" for standard input.</summary>
    public string File { get; }

    /// <summary>What kind of obstacle it is.</summary>
    public CaptureFault Fault { get; }

    /// <summary>Octet offset in the (unpacked) file at which something else was expected; 0 where the file could not be opened at
    /// all.</summary>
    public long Offset { get; }

    /// <summary>What was expected there, a few words.</summary>
    public string Expected { get; }
}
