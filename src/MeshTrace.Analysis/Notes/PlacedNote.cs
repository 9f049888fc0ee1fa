using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Notes;

/// <summary>What became of a noted press.</summary>
public enum NoteOutcome : byte
{
    /// <summary>Not a press, or about something that is no known node.</summary>
    Remark,

    /// <summary>The capture does not cover that time, or has no times.</summary>
    OutsideCapture,

    /// <summary>The node was heard within the window.</summary>
    Heard,

    /// <summary>Not one PDU of that node was heard within the window: it never reached the air, or the receivers are deaf to this node.</summary>
    NothingHeard,
}

/// <summary>A note on the timeline of the capture.</summary>
public sealed class PlacedNote
{
    public required FieldNote Note { get; init; }

    /// <summary>Its time in the capture's clock, the common shift included; null where the capture has no times.</summary>
    public long? TimeNs { get; init; }

    /// <summary>Primary address of the node it names, or null.</summary>
    public MeshAddress? Node { get; init; }
    public NoteOutcome Outcome { get; internal set; }

    /// <summary>Row of the press heard within the window, or null.</summary>
    public int? Press { get; internal set; }

    /// <summary>Rows of the node's last flood before the window and of its first one behind it, or null.</summary>
    public int? FloodBefore { get; internal set; }
    public int? FloodAfter { get; internal set; }

    /// <summary>
    /// Sequence numbers between those two that were used and not heard: 0 tells that the node sent nothing here. Null where it cannot be told: one of the
    /// two is missing, the IV index changed, the number went back or jumped, or two elements with numbers of their own sent them.
    /// </summary>
    public int? NumbersUnheard { get; internal set; }
}
