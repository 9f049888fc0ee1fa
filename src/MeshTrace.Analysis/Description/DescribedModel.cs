using System.Globalization;
using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Description;

/// <summary>A model instance on an element.</summary>
public sealed class DescribedModel
{
    /// <summary>Address of the element that has the model.</summary>
    public required MeshAddress Element { get; init; }

    /// <summary>Company identifier of a vendor model, or null for a SIG model.</summary>
    public ushort? CompanyId { get; init; }

    /// <summary>SIG model identifier, or the vendor's own number.</summary>
    public required ushort ModelId { get; init; }

    /// <summary>Subscription list: group and virtual addresses.</summary>
    public required IReadOnlyList<DescribedAddress> Subscribe { get; init; }

    /// <summary>Indexes of the bound AppKeys.</summary>
    public required IReadOnlyList<int> Bind { get; init; }

    /// <summary>Null: the model does not publish.</summary>
    public DescribedPublish? Publish { get; init; }

    public bool IsSig(ushort modelId) => CompanyId is null && ModelId == modelId;

    /// <summary>True if the subscription list holds an address, virtual ones by their 16 bits.</summary>
    public bool SubscribesTo(MeshAddress address)
    {
        foreach (DescribedAddress subscribed in Subscribe)
        {
            if (subscribed.Address == address)
                return true;
        }
        return false;
    }

    /// <summary><c>0x1000</c>, or <c>0x000A:0x0001</c> with the company first.</summary>
    public override string ToString() => CompanyId is { } company
        ? string.Create(CultureInfo.InvariantCulture, $"0x{company:X4}:0x{ModelId:X4}")
        : string.Create(CultureInfo.InvariantCulture, $"0x{ModelId:X4}");
}

/// <summary>Model Publication state (Mesh Protocol 1.1 §4.2).</summary>
public sealed record DescribedPublish
{
    /// <summary>TTL value that stands for the node's default TTL.</summary>
    public const int DefaultTtl = 255;

    /// <summary>Where the model publishes to; never unassigned.</summary>
    public required DescribedAddress Address { get; init; }

    public int? AppKeyIndex { get; init; }

    /// <summary>0-127, or <see cref="DefaultTtl"/>.</summary>
    public int? Ttl { get; init; }

    /// <summary>Milliseconds from one periodic publication to the next; 0 = published only on change.</summary>
    public int? PeriodMs { get; init; }

    /// <summary>Repetitions after the first publication, 0-7: the number in the Config message, unlike <see cref="DescribedTransmit.Count"/>.</summary>
    public int? RetransmitCount { get; init; }

    /// <summary>50-1600 ms between repetitions.</summary>
    public int? RetransmitIntervalMs { get; init; }

    /// <summary>True if sent with friendship credentials.</summary>
    public bool? FriendshipCredentials { get; init; }
}
