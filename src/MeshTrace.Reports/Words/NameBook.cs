using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;

namespace MeshTrace.Reports.Words;

/// <summary>What to call an address: its name from the description, the standard's name of a fixed group, or the address itself.</summary>
public sealed class NameBook : INames
{
    private readonly CaptureHistory _history;
    private readonly Dictionary<MeshAddress, string> _known = [];

    public NameBook(CaptureHistory history) => _history = history;

    /// <summary>A name alone, for a column: "Reading room", "all nodes", "0xC001".</summary>
    public string Short(MeshAddress address)
    {
        if (!_known.TryGetValue(address, out string? name))
            _known[address] = name = Find(address) ?? address.ToString();
        return name;
    }

    /// <summary>A name with its address, for a sentence: "Reading room (0xC001)".</summary>
    public string Full(MeshAddress address) => Short(address) is var name && name == address.ToString() ? name : $"{name} ({address})";

    public string Address(MeshAddress address) => address.ToString();

    public string InText(string text) => text;

    private string? Find(MeshAddress address)
    {
        if (FixedName(address) is { } fixedName)
            return fixedName;
        return SafeText.Strip(_history.Directory.NameOf(address)) is { Length: > 0 } name ? name : null;
    }

    /// <summary>Mesh Protocol 1.1 §3.4.2.4, fixed group addresses.</summary>
    private static string? FixedName(MeshAddress address) =>
        address == MeshAddress.AllNodes ? "all nodes"
        : address == MeshAddress.AllRelays ? "all relays"
        : address == MeshAddress.AllFriends ? "all friends"
        : address == MeshAddress.AllProxies ? "all proxies"
        : address == MeshAddress.AllDirectedForwardingNodes ? "all directed forwarding nodes"
        : null;
}
