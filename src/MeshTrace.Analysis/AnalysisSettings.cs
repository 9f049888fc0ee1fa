using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Notes;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis;

/// <summary>What the user gives beside the capture.</summary>
public sealed record AnalysisSettings
{
    /// <summary>The network as its provisioning program exported it, or null.</summary>
    public NetworkDescription? Description { get; init; }

    /// <summary>Keys, labels and IV index given by hand, or null.</summary>
    public KeyArguments? Keys { get; init; }

    /// <summary>Notes from the field, as read.</summary>
    public IReadOnlyList<FieldNote> Notes { get; init; } = [];

    /// <summary>How far the clocks of receivers are ahead, as far as the user knows; the others are aligned by what several heard.</summary>
    public IReadOnlyList<ReceiverOffset> ReceiverOffsets { get; init; } = [];

    /// <summary>What an earlier part of the same run knew of keys, or null.</summary>
    public CarriedKeys? CarriedKeys { get; init; }

    /// <summary>How many cores the analysis may use; what it finds does not depend on it.</summary>
    public int Cores { get; init; } = Environment.ProcessorCount;
}
