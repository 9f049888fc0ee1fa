using MeshTrace.Protocol;
using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>Configuration Server (Mesh Protocol 1.1 §4.4.1), and the client's side of one exchange.</summary>
internal sealed partial class MeshNode
{
    /// <summary>An answer under some device key has come to this node.</summary>
    internal event Action<AccessMessage>? ConfigurationAnswered;

    internal void LearnAppKey(int index) => _appKeys.Add(index);

    internal ModelPlan ModelAt(MeshAddress element, uint id) =>
        _elements[element.Value - Unicast.Value].Models.Find(model => model.Id == id)!;

    /// <summary>Sends a Config message to a node under that node's device key.</summary>
    internal void SendConfiguration(MeshNode target, ConfigurationStep step) => Send(new AccessMessage
    {
        Name = step.Name, Payload = step.Payload, Key = target.DeviceKey, Subnet = _world.Keys.Subnet(Plan.NetKeys[0]), Src = Unicast,
        Dst = target.Unicast,
        Ttl = (byte)Plan.DefaultTtl, Step = step,
    });

    private void Configure(AccessMessage message)
    {
        if (!ReferenceEquals(message.Key, DeviceKey))
            return;
        if (message.Step!.Serve(this) is not { } status)
            return;
        _world.Time.After(_random.Between(20_000, 50_000), () => Send(new AccessMessage
        {
            Name = message.Step.StatusName, Payload = status, Key = DeviceKey, Subnet = message.Subnet, Src = Unicast, Dst = message.Src,
            Ttl = message.Ttl == 0 ? (byte)0 : (byte)Plan.DefaultTtl, Step = message.Step, IsAnswer = true,
        }));
    }

    /// <summary>Config Composition Data Status, page 0 (§4.2.2.1): CID, PID, VID, CRPL, features, then the elements.</summary>
    internal byte[] WriteComposition()
    {
        var octets = new List<byte> { 0x02, 0x00 };
        void Append(ushort value) => octets.AddRange([(byte)(value & 0xFF), (byte)(value >> 8)]);
        Append(Plan.CompanyId);
        Append(Plan.ProductId);
        Append(Plan.VersionId);
        Append((ushort)Plan.ReplayListSize);
        Append((ushort)((Plan.Relay != 2 ? 1 : 0) | (Plan.Proxy != 2 ? 2 : 0) | (Plan.Friend != 2 ? 4 : 0) | (Plan.LowPower != 2 ? 8 : 0)));
        foreach (ElementPlan element in Plan.Elements)
        {
            Append(element.Location);
            var vendor = element.Models.Where(model => model.IsVendor).ToList();
            octets.Add((byte)(element.Models.Count - vendor.Count));
            octets.Add((byte)vendor.Count);
            foreach (ModelPlan model in element.Models.Where(model => !model.IsVendor))
                Append((ushort)model.Id);
            foreach (ModelPlan model in vendor)
            {
                Append((ushort)(model.Id >> 16));
                Append((ushort)(model.Id & 0xFFFF));
            }
        }
        return [.. octets];
    }
}
