using MeshTrace.Protocol;
using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>One Config message, what its server does with it, and the Status that answers (Mesh Protocol 1.1 §4.3.2, §4.4.1).</summary>
/// <param name="Name">The standard's name of the message.</param>
/// <param name="StatusName">The standard's name of the answer.</param>
/// <param name="Payload">Access payload of the message.</param>
/// <param name="Answer">The payload of the answer of a node that has carried it out; null where the node gives none.</param>
internal sealed record ConfigurationStep(string Name, string StatusName, byte[] Payload, Func<MeshNode, byte[]?> Answer)
{
    /// <summary>Where the status code stands in the Status of a step that can be refused.</summary>
    private const int StatusCodeAt = 2;

    /// <summary>The step of a scenario that it belongs to.</summary>
    internal string Kind { get; init; } = "";

    /// <summary>What it changes at the node; null where only the answer matters.</summary>
    internal Action<MeshNode>? Change { get; init; }

    /// <summary>Carries it out, or refuses it where the node is made to; gives the payload of the answer, if any.</summary>
    internal byte[]? Serve(MeshNode node)
    {
        bool refused = node.Plan.Habits.Refuses.TryGetValue(Kind, out byte code);
        if (!refused)
            Change?.Invoke(node);
        if (Answer(node) is not { } full)
            return null;
        byte[] answer = [.. full];
        if (refused)
            answer[StatusCodeAt] = code;
        return answer;
    }
}

/// <summary>Makes the steps that bring a node to its plan, in the order in which a configuration client takes them.</summary>
internal static partial class ConfigurationSteps
{
    private const byte Success = 0x00;
    private const string SubscriptionStatus = "Config Model Subscription Status", PublicationStatus = "Config Model Publication Status";

    /// <summary>Step names of a scenario, in the order in which they are taken by default.</summary>
    internal static readonly string[] Names =
        ["composition", "default-ttl", "app-keys", "bind", "subscribe", "publish", "network-transmit", "relay"];

    /// <summary>Steps whose Status has a status code.</summary>
    internal static readonly string[] Refusable = ["app-keys", "bind", "subscribe", "publish"];

    internal static IEnumerable<ConfigurationStep> Of(string name, NodePlan plan, NetworkPlan network) =>
        Make(name, plan, network).Select(step => step with { Kind = name });

    private static IEnumerable<ConfigurationStep> Make(string name, NodePlan plan, NetworkPlan network) => name switch
    {
        "composition" => [Composition()],
        "default-ttl" => [DefaultTtl(plan)],
        "app-keys" => plan.AppKeys.Select(index => AppKeyAdd(network.AppKeys.First(key => key.Index == index))),
        "bind" => plan.Models().SelectMany(item => item.Model.Bind.Select(index => Bind(item.Element, item.Model, index))),
        "subscribe" => plan.Models().SelectMany(item =>
            item.Model.Subscribe.Select(address => Subscribe(item.Element, item.Model, address, network.LabelOf(address)))),
        "publish" =>
            plan.Models().Where(item => item.Model.Publish is not null).Select(item => Publication(item.Element, item.Model, network)),
        "network-transmit" => [NetworkTransmit(plan)],
        ResetName => [NodeReset()],
        _ => plan.Relay == 2 ? [] : [Relay(plan)],
    };

    private static ConfigurationStep Composition() =>
        new("Config Composition Data Get", "Config Composition Data Status", [0x80, 0x08, 0x00], node => node.WriteComposition());

    private static ConfigurationStep DefaultTtl(NodePlan plan)
    {
        byte ttl = (byte)plan.DefaultTtl;
        return new("Config Default TTL Set", "Config Default TTL Status", [0x80, 0x0D, ttl], _ => [0x80, 0x0E, ttl]);
    }

    private static ConfigurationStep AppKeyAdd(AppKeyPlan key)
    {
        byte[] payload = new byte[1 + 3 + 16];
        WriteIndexes(payload.AsSpan(1), key.NetKey, key.Index);
        key.Key.CopyTo(payload, 4);
        byte[] answer = [0x80, 0x03, Success, 0, 0, 0];
        WriteIndexes(answer.AsSpan(3), key.NetKey, key.Index);
        return new("Config AppKey Add", "Config AppKey Status", payload, _ => answer) { Change = node => node.LearnAppKey(key.Index) };
    }

    private static ConfigurationStep Bind(MeshAddress element, ModelPlan model, int appKey)
    {
        byte[] body = [.. Little(element.Value), .. Little((ushort)appKey), .. ModelId(model.Id)];
        return new("Config Model App Bind", "Config Model App Status", [0x80, 0x3D, .. body], _ => [0x80, 0x3E, Success, .. body])
        {
            Change = node => node.ModelAt(element, model.Id).Bind.Add(appKey),
        };
    }

    /// <summary>A virtual address is given by its label UUID; the answer has the 16-bit address in both cases.</summary>
    private static ConfigurationStep Subscribe(MeshAddress element, ModelPlan model, MeshAddress address, byte[]? label)
    {
        byte[] answer = [0x80, 0x1F, Success, .. Little(element.Value), .. Little(address.Value), .. ModelId(model.Id)];
        return new(label is null ? "Config Model Subscription Add" : "Config Model Subscription Virtual Address Add", SubscriptionStatus,
            label is null ? [0x80, 0x1B, .. answer.AsSpan(3)] : [0x80, 0x20, .. Little(element.Value), .. label, .. ModelId(model.Id)],
            _ => answer)
        {
            Change = node => node.ModelAt(element, model.Id).Subscribe.Add(address),
        };
    }

    private static ConfigurationStep Publication(MeshAddress element, ModelPlan model, NetworkPlan network)
    {
        PublishPlan publish = model.Publish!;
        byte[] rest =
        [
            .. Little((ushort)publish.AppKey), (byte)publish.Ttl, Period(publish.PeriodMs),
            (byte)(publish.RetransmitCount | (((publish.RetransmitIntervalMs / 50) - 1) << 3)), .. ModelId(model.Id),
        ];
        byte[]? label = network.LabelOf(publish.Address);
        return new(label is null ? "Config Model Publication Set" : "Config Model Publication Virtual Address Set", PublicationStatus,
            label is null ? [0x03, .. Little(element.Value), .. Little(publish.Address.Value), .. rest]
                : [0x80, 0x1A, .. Little(element.Value), .. label, .. rest],
            _ => [0x80, 0x19, Success, .. Little(element.Value), .. Little(publish.Address.Value), .. rest])
        {
            Change = node => node.ModelAt(element, model.Id).Publish = publish,
        };
    }

    private static ConfigurationStep NetworkTransmit(NodePlan plan)
    {
        byte state = Transmit(plan.NetworkTransmit);
        return new("Config Network Transmit Set", "Config Network Transmit Status", [0x80, 0x24, state], _ => [0x80, 0x25, state]);
    }

    private static ConfigurationStep Relay(NodePlan plan)
    {
        byte[] body = [(byte)plan.Relay, Transmit(plan.RelayRetransmit)];
        return new("Config Relay Set", "Config Relay Status", [0x80, 0x27, .. body], _ => [0x80, 0x28, .. body]);
    }

    /// <summary>Count of retransmissions in the low 3 bits, steps of 10 ms less one above (§4.2.20).</summary>
    private static byte Transmit(Radio.Repetition repetition) =>
        (byte)((repetition.Transmissions - 1) | (((repetition.IntervalMs / 10) - 1) << 3));

    /// <summary>Publish Period (§4.2.3): steps in the low 6 bits, resolution in the high 2.</summary>
    private static byte Period(long ms) => ms switch
    {
        0 => 0,
        <= 6300 => (byte)(ms / 100),
        <= 63_000 => (byte)(0x40 | (ms / 1000)),
        <= 630_000 => (byte)(0x80 | (ms / 10_000)),
        _ => (byte)(0xC0 | (ms / 600_000)),
    };

    /// <summary>Two 12-bit key indexes in three octets, the first one low (§4.3.1.1).</summary>
    private static void WriteIndexes(Span<byte> destination, int first, int second)
    {
        destination[0] = (byte)(first & 0xFF);
        destination[1] = (byte)(((first >> 8) & 0x0F) | ((second & 0x0F) << 4));
        destination[2] = (byte)(second >> 4);
    }

    private static byte[] Little(ushort value) => [(byte)(value & 0xFF), (byte)(value >> 8)];

    /// <summary>A vendor model stands as company identifier, then model identifier.</summary>
    private static byte[] ModelId(uint id) =>
        id > 0xFFFF ? [.. Little((ushort)(id >> 16)), .. Little((ushort)(id & 0xFFFF))] : Little((ushort)id);
}
