using MeshTrace.Protocol;
using MeshTrace.Synthesis.Nodes.Friendship;

namespace MeshTrace.Synthesis.Scenarios;

/// <summary>How a Low Power node lives with a Friend.</summary>
internal sealed class LowPowerPlan
{
    /// <summary>Its first Friend Request.</summary>
    internal required long FromUs { get; init; }

    /// <summary>From a poll that brought nothing more to the next one.</summary>
    internal required long PollUs { get; init; }

    /// <summary>From a Friend Request without an offer, or a lost Friend, to the next request; 0-0.5 s are added.</summary>
    internal required long RetryUs { get; init; }
    internal required LowPowerTerms Terms { get; set; }

    /// <summary>Addresses taken off the Friend's list, and when.</summary>
    internal List<(long AtUs, MeshAddress Address)> Removes { get; } = [];
}
