namespace MeshTrace.Captures.Live;

/// <summary>Why a growing input gave no more.</summary>
public enum InputEnd : byte
{
    /// <summary>It has not ended.</summary>
    None,

    /// <summary>It was asked to stop.</summary>
    Stopped,

    /// <summary>A pipe that nobody writes to any more.</summary>
    WriterGone,

    /// <summary>The file was replaced by another one, or began anew.</summary>
    Replaced,
}
