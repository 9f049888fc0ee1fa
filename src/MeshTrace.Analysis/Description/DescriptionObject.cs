using System.Text.Json;

namespace MeshTrace.Analysis.Description;

/// <summary>What all values of one file share while it is read.</summary>
internal sealed class DescriptionContext(string file)
{
    private readonly Dictionary<Guid, DescribedAddress> _labels = [];

    public string File { get; } = file;
    public RepairLog Repairs { get; } = new();

    /// <summary>One label UUID stands in many subscription lists; its virtual address costs three AES-CMACs, once.</summary>
    public DescribedAddress AddressOf(Guid label)
    {
        if (!_labels.TryGetValue(label, out DescribedAddress address))
            _labels[label] = address = DescribedAddress.OfLabel(label);
        return address;
    }
}

/// <summary>A JSON object of the file together with its place. Members that nobody asks for are never looked at.</summary>
internal sealed class DescriptionObject(DescriptionValue place)
{
    public DescriptionValue Place { get; } = place;
    public DescriptionContext Context => Place.Context;

    /// <summary>A member, or null if it is absent or JSON null.</summary>
    public DescriptionValue? Find(string member)
    {
        try
        {
            return Place.Element.TryGetProperty(member, out JsonElement element) && element.ValueKind != JsonValueKind.Null
                ? new DescriptionValue(Context, this, member, element)
                : null;
        }
        catch (InvalidOperationException)   // an escaped member name with half a surrogate pair cannot be compared
        {
            throw Place.Fail("a member name is not valid Unicode");
        }
    }

    /// <summary>A member without which the object means nothing.</summary>
    /// <exception cref="NetworkDescriptionException">It is absent.</exception>
    public DescriptionValue Need(string member) => Find(member) ?? throw Absent(member).Fail("missing");

    /// <summary>A member that the profile requires and the analysis can do without: its absence is noted.</summary>
    public DescriptionValue? Expect(string member, string otherwise)
    {
        DescriptionValue? found = Find(member);
        if (found is null)
            Note(member, $"missing, {otherwise}");
        return found;
    }

    /// <summary>Notes how a member was read.</summary>
    public void Note(string member, string says, string? detail = null) => Absent(member).Note(says, detail);

    private DescriptionValue Absent(string member) => new(Context, this, member, default);
}
