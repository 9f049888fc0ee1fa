using MeshTrace.Protocol;
using MeshTrace.Synthesis.Radio;
using MeshTrace.Synthesis.Scenarios;
using MeshTrace.Synthesis.Truth;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>What all nodes share: clock, air, keys, the network as it was meant, and the log of the truth.</summary>
internal sealed class MeshWorld(Scenario actual, Timeline time, Medium medium, TruthLog truth)
{
    private readonly Dictionary<string, MeshNode> _byName = [];

    internal Scenario Actual { get; } = actual;
    internal Timeline Time { get; } = time;
    internal Medium Medium { get; } = medium;
    internal TruthLog Truth { get; } = truth;
    internal KeyStore Keys { get; } = new(actual.Network);
    internal List<MeshNode> Nodes { get; } = [];

    internal void Add(MeshNode node)
    {
        Nodes.Add(node);
        _byName.Add(node.Plan.Name, node);
    }

    internal MeshNode Named(string name) => _byName[name];

    internal byte[] LabelOf(MeshAddress address) => address.IsVirtual ? Actual.Network.LabelOf(address) ?? [] : [];
}
