using MeshTrace.Protocol;
using MeshTrace.Protocol.Proxy;

namespace MeshTrace.Analysis.Connections;

/// <summary>What changed or told a proxy filter.</summary>
public enum ProxyFilterChangeKind : byte
{
    /// <summary>Set Filter Type: the type is set and the list emptied.</summary>
    TypeSet,

    /// <summary>Add Addresses To Filter.</summary>
    Added,

    /// <summary>Remove Addresses From Filter.</summary>
    Removed,

    /// <summary>A Network PDU of the client: its SRC goes into an accept list, and out of a reject list (Mesh Protocol 1.1 §6.4).</summary>
    ClientSource,

    /// <summary>Filter Status: the server tells type and number of addresses.</summary>
    Told,
}

/// <summary>One event in the life of a proxy filter.</summary>
/// <param name="TimeNs">When it was heard.</param>
/// <param name="Frame">Row of its frame.</param>
/// <param name="Kind">What happened.</param>
/// <param name="FilterType">Of TypeSet and Told, else null.</param>
/// <param name="Addresses">Of Added, Removed and ClientSource, else empty.</param>
/// <param name="ListSize">Of Told, else null.</param>
public sealed record ProxyFilterChange(
    long TimeNs, int Frame, ProxyFilterChangeKind Kind, ProxyFilterType? FilterType, IReadOnlyList<MeshAddress> Addresses, int? ListSize);

/// <summary>A proxy filter: which Network PDUs the proxy server passes on to its client, by their DST (Mesh Protocol 1.1 §6.4).</summary>
public sealed class ProxyFilter
{
    private readonly HashSet<ushort> _addresses = [];

    internal ProxyFilter(bool beginHeard) => IsCertain = beginHeard;

    /// <summary>Accept list, unless the client set another type.</summary>
    public ProxyFilterType Type { get; private set; } = ProxyFilterType.AcceptList;

    /// <summary>Addresses in the list, as far as they were heard, in ascending order.</summary>
    public IEnumerable<MeshAddress> Addresses => _addresses.Order().Select(address => new MeshAddress(address));

    /// <summary>How many.</summary>
    public int Count => _addresses.Count;

    /// <summary>What the server last told of the list's size, or null.</summary>
    public int? ToldSize { get; private set; }

    /// <summary>False where part of the filter's life was missed: the beginning of the connection, or a change that the server's word contradicts.</summary>
    public bool IsCertain { get; private set; }

    /// <summary>True if a PDU to this address is passed on to the client.</summary>
    public bool Passes(MeshAddress dst) => _addresses.Contains(dst.Value) == (Type == ProxyFilterType.AcceptList);

    internal void Apply(ProxyFilterChange change)
    {
        switch (change.Kind)
        {
            case ProxyFilterChangeKind.TypeSet:
                Type = change.FilterType ?? Type;
                _addresses.Clear();
                IsCertain = true;
                break;
            case ProxyFilterChangeKind.Added:
                Include(change.Addresses, true);
                break;
            case ProxyFilterChangeKind.Removed:
                Include(change.Addresses, false);
                break;
            case ProxyFilterChangeKind.ClientSource:
                Include(change.Addresses, Type == ProxyFilterType.AcceptList);
                break;
            case ProxyFilterChangeKind.Told:
                ToldSize = change.ListSize;
                if (change.FilterType is { } told && told != Type)
                {
                    Type = told;
                    _addresses.Clear();
                    IsCertain = false;
                }
                else if (change.ListSize is { } size && size != _addresses.Count)
                    IsCertain = false;
                break;
        }
    }

    private void Include(IReadOnlyList<MeshAddress> addresses, bool include)
    {
        foreach (MeshAddress address in addresses)
        {
            if (include)
                _addresses.Add(address.Value);
            else
                _addresses.Remove(address.Value);
        }
    }
}
