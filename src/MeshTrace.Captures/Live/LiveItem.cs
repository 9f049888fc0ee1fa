using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Live;

/// <summary>What an input tells whoever collects.</summary>
public enum LiveItemKind : byte
{
    /// <summary>A frame: <see cref="LiveItem.Frame"/>.</summary>
    Frame,

    /// <summary>A receiver, new or described anew: <see cref="LiveItem.Receiver"/>.</summary>
    Receiver,

    /// <summary>Words for the user, one sentence: <see cref="LiveItem.Says"/>.</summary>
    Notice,

    /// <summary>Lines of a text log, octets as they came: <see cref="LiveItem.Text"/>.</summary>
    Text,

    /// <summary>The input has ended, with its <see cref="LiveItem.Damage"/> or without.</summary>
    End,
}

/// <summary>One thing that came from an input.</summary>
public sealed class LiveItem
{
    /// <summary>Number of the input, from 0.</summary>
    public int Lane { get; internal set; }
    public LiveItemKind Kind { get; internal set; }
    public FrameCopy Frame { get; } = new();
    public ReceiverDescription? Receiver { get; internal set; }
    public string? Says { get; internal set; }
    public ReadOnlyMemory<byte> Text { get; internal set; }
    public CaptureDamage? Damage { get; internal set; }

    /// <summary>The end came because nothing could be read as a capture: what is wrong, where, what to do.</summary>
    public string? Refused { get; internal set; }
}
