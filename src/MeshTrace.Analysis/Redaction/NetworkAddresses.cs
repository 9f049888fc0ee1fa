using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.UpperTransport.Control;

namespace MeshTrace.Analysis.Redaction;

/// <summary>Every address that a network uses, as far as the description and what was heard tell.</summary>
internal sealed class NetworkAddresses
{
    private readonly HashSet<ushort> _all = [];
    private readonly HashSet<(ushort First, int Count)> _nodes = [];
    private readonly HashSet<Guid> _labels = [];

    public NetworkAddresses(CaptureHistory history)
    {
        AddHeard(history);
        if (history.Directory.Description is { } description)
            AddDescribed(description);
        foreach (DeviceKey key in history.Keys.DeviceKeys)
            AddNode(key.Node, history.Directory.ElementsOf(key.Node));
        foreach (Label label in history.Keys.Labels)
            AddAddress(new DescribedAddress(label.Address, label.Uuid));
    }

    public IReadOnlySet<ushort> All => _all;

    /// <summary>First address and number of elements.</summary>
    public IReadOnlyCollection<(ushort First, int Count)> Nodes => _nodes;

    public IReadOnlyCollection<Guid> Labels => _labels;

    private void AddHeard(CaptureHistory history)
    {
        for (int row = 0; row < history.Floods.Count; row++)
        {
            Add(history.Floods[row].Src);
            Add(history.Floods[row].Dst);
        }
        foreach (NodeRecord node in history.Nodes)
            AddNode(node.Unicast, node.Elements);
        for (int row = 0; row < history.Messages.Count; row++)
        {
            ref MessageRow message = ref history.Messages[row];
            if (!message.Decrypted || (!message.IsControl && message.Key != MessageKey.Device))      // others name no addresses, or few
                continue;
            IReadOnlyList<DecodedField> fields = message.IsControl ? ControlReader.Read((byte)message.Opcode.Value, history.PayloadOf(row)).Fields : AccessReader.Read(history.PayloadOf(row)).Fields;
            foreach (MeshAddress address in PayloadRedactor.AddressesIn(fields))
                Add(address);
        }
    }

    private void AddDescribed(NetworkDescription description)
    {
        foreach (DescribedNode node in description.Nodes)
        {
            AddNode(node.Unicast, node.ElementCount);
            foreach (DescribedAddress known in node.KnownAddresses)
                AddAddress(known);
            foreach (DescribedModel model in node.Elements.SelectMany(element => element.Models))
            {
                foreach (DescribedAddress subscribed in model.Subscribe)
                    AddAddress(subscribed);
                if (model.Publish is { } publish)
                    AddAddress(publish.Address);
            }
            if (node.HeartbeatPublication is { } publication)
                AddAddress(publication.Destination);
            Add(node.HeartbeatSubscription?.Source ?? default);
            Add(node.HeartbeatSubscription?.Destination ?? default);
        }
        foreach (DescribedGroup group in description.Groups)
        {
            AddAddress(group.Address);
            AddAddress(group.Parent ?? default);
        }
        foreach (MeshAddress address in description.Scenes.SelectMany(scene => scene.Addresses).Concat(description.Exclusions.SelectMany(exclusion => exclusion.Addresses)))
            Add(address);
    }

    private void AddNode(MeshAddress first, int? elements)
    {
        Add(first);
        _nodes.Add((first.Value, Math.Max(elements ?? 1, 1)));
    }

    private void AddAddress(DescribedAddress address)
    {
        Add(address.Address);
        if (address.Label is { } label)
            _labels.Add(label);
    }

    private void Add(MeshAddress address)
    {
        if (address != MeshAddress.Unassigned)
            _all.Add(address.Value);
    }
}
