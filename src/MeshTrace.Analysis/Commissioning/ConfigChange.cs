using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Commissioning;

/// <summary>A change of a node's configuration as Config messages asked for it and its Status answered.</summary>
public sealed class ConfigChange
{
    /// <summary>First request heard, or the Status where no request was.</summary>
    public required long TimeNs { get; init; }

    /// <summary>Primary address of the node.</summary>
    public required MeshAddress Node { get; init; }
    public required ConfigKind Kind { get; init; }
    public ConfigStanding Standing { get; internal set; }

    /// <summary>Element and model it is about; null for what belongs to the node.</summary>
    public ModelInstance? Model { get; init; }

    /// <summary>AppKey index, else NetKey index; -1 where it is not about a key.</summary>
    public int KeyIndex { get; init; } = -1;

    /// <summary>NetKey index to which an AppKey is bound, or -1.</summary>
    public int BoundNetKey { get; init; } = -1;

    /// <summary>Subscription address; unassigned where it is not about one.</summary>
    public DescribedAddress Address { get; init; }

    /// <summary>TTL, state of a feature or phase as the message writes it.</summary>
    public int Value { get; init; }

    /// <summary>Network Transmit or Relay Retransmit, counted in transmissions.</summary>
    public DescribedTransmit? Transmit { get; init; }
    public PublicationState? Publication { get; init; }
    public CompositionPage0? Composition { get; init; }

    /// <summary>Key indexes of a list.</summary>
    public IReadOnlyList<int> Indexes { get; init; } = [];

    /// <summary>Addresses of a subscription list.</summary>
    public IReadOnlyList<MeshAddress> Addresses { get; init; } = [];

    /// <summary>How often it was asked for.</summary>
    public int Tries { get; internal set; } = 1;

    /// <summary>Row of the first request, or -1 where only the Status was heard.</summary>
    public int Request { get; internal set; } = -1;

    /// <summary>Row of the Status, or -1.</summary>
    public int Status { get; internal set; } = -1;

    /// <summary>When the Status was heard, or null.</summary>
    public long? StatusTimeNs { get; internal set; }

    /// <summary>Status code (Mesh Protocol 1.1 §4.3.5), 0 for success; null where no Status with a code was heard.</summary>
    public byte? StatusCode { get; internal set; }

    /// <summary>Row of the message that tells most: the Status, else the request.</summary>
    public int Message => Status >= 0 ? Status : Request;

    /// <summary>True if it asks for the same as another.</summary>
    internal bool IsSameAs(ConfigChange other) =>
        Kind == other.Kind && Node == other.Node && Model == other.Model && KeyIndex == other.KeyIndex && BoundNetKey == other.BoundNetKey && Address == other.Address
        && Value == other.Value && Transmit == other.Transmit && Publication == other.Publication && Indexes.SequenceEqual(other.Indexes) && Addresses.SequenceEqual(other.Addresses);
}
