namespace MeshTrace.Analysis.Excerpts;

/// <summary>Why a frame is part of an excerpt: the first reason that holds.</summary>
public enum ExcerptReason : byte
{
    /// <summary>It is not part of it.</summary>
    None,

    /// <summary>It lies in the time asked for, or shortly before or after the press.</summary>
    Time,

    /// <summary>It is from, for or about the press or node asked for: requests, answers, what was heard of the node.</summary>
    Subject,

    /// <summary>Another segment, or an acknowledgment, of a transfer of which a part is in the excerpt.</summary>
    Transfer,

    /// <summary>Sequence numbers next to it: they tell how much of a node was heard, and so what its silence means.</summary>
    Neighbour,

    /// <summary>The state that an element told last before a press: whether acting on it would have changed anything.</summary>
    State,

    /// <summary>A beacon that tells the IV index.</summary>
    Beacon,

    /// <summary>A friendship's Request and Offer: they give its security material.</summary>
    Friendship,

    /// <summary>A message or a provisioning that handed out a key or a label that is needed.</summary>
    Key,

    /// <summary>A change of the configuration of a node that takes part.</summary>
    Configuration,

    /// <summary>An earlier or later packet of a connection that carried a part of it.</summary>
    Connection,
}
