using MeshTrace.Synthesis.Nodes.Friendship;

namespace MeshTrace.Synthesis.Truth;

/// <summary>One friendship as its Friend knows it: from the first Friend Poll on.</summary>
internal sealed class FriendshipTruth(FriendshipBond bond, long startUs)
{
    internal FriendshipBond Bond { get; } = bond;
    internal long StartUs { get; } = startUs;
    internal long? EndUs { get; private set; }

    /// <summary>lasting, poll-timeout, cleared, replaced (the same two again), reset.</summary>
    internal string Outcome { get; private set; } = "lasting";
    internal int Polls { get; set; }

    /// <summary>Messages put into the queue, of them given and confirmed by the next poll, and fallen out of a full queue.</summary>
    internal int Stored { get; set; }
    internal int Delivered { get; set; }
    internal int Dropped { get; set; }

    internal void End(long nowUs, string outcome) => (EndUs, Outcome) = (nowUs, outcome);
}
