using MeshTrace.Protocol;

namespace MeshTrace.Analysis.History;

/// <summary>Two mesh addresses of which each has its place, as from where to where: a key that is hashed in one step.</summary>
/// <param name="From">As <see cref="MeshAddress.Value"/>.</param>
/// <param name="To">The same.</param>
internal readonly record struct AddressPair(ushort From, ushort To)
{
    public AddressPair(MeshAddress from, MeshAddress to) : this(from.Value, to.Value)
    {
    }

    /// <inheritdoc />
    public override int GetHashCode() => (From << 16) | To;
}
