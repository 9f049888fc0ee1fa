using System.Globalization;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Security;
using MeshTrace.Synthesis.Radio;
using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Load;

/// <summary>
/// Composes captures of any size for measurements: several networks with presses and answers, each PDU in many copies at falling TTLs,
/// between a lot of unrelated advertising. It draws times and copies instead of simulating the radio, so it is fast, and it holds only
/// what is still to come.
/// </summary>
public static class LoadComposer
{
    /// <summary>Writes NAME.pcapng and NAME.network.json into a directory.</summary>
    public static LoadSummary Compose(LoadPlan plan, string directory, string name)
    {
        Directory.CreateDirectory(directory);
        using (FileStream description = File.Create(Path.Combine(directory, name + ".network.json")))
            WriteDescription(plan, description);
        using var capture =
            new FileStream(Path.Combine(directory, name + ".pcapng"), FileMode.Create, FileAccess.Write, FileShare.Read, 1 << 20);
        return WriteCapture(plan, capture);
    }

    /// <summary>Writes the capture (pcapng, one interface).</summary>
    public static LoadSummary WriteCapture(LoadPlan plan, Stream capture)
    {
        var scenario = Describe(plan, out var foreign);
        return new LoadStream(plan, Networks(plan, scenario, foreign)).WriteTo(capture);
    }

    /// <summary>Writes the description of the networks that are known: a Mesh Configuration Database with a NetKey each.</summary>
    public static void WriteDescription(LoadPlan plan, Stream description) => DescriptionWriter.Write(description, Describe(plan, out _));

    /// <summary>Nodes of all networks together; each panel needs a group address below 0xFF00.</summary>
    private const int MostNodes = 0x3EFF;

    /// <summary>Start of every load capture.</summary>
    internal static readonly long StartNs = new DateTimeOffset(2026, 1, 12, 8, 0, 0, TimeSpan.Zero).ToUnixTimeSeconds() * 1_000_000_000;

    private static Scenario Describe(LoadPlan plan, out List<(NetKeyPlan Net, AppKeyPlan App)> foreign)
    {
        ArgumentOutOfRangeException.ThrowIfNegative(plan.Frames);
        ArgumentOutOfRangeException.ThrowIfGreaterThan(plan.UnrelatedShare, 1);
        ArgumentOutOfRangeException.ThrowIfGreaterThan((long)(plan.Networks + plan.ForeignNetworks) * plan.NodesPerNetwork, MostNodes,
            nameof(plan));
        if (plan.UnrelatedShare < 1 && plan.Networks + plan.ForeignNetworks == 0)
            throw new ArgumentException("Mesh frames need a network.", nameof(plan));
        var random = new Randomness(plan.Seed);
        var scenario = new Scenario
        {
            Name = "load", Seed = plan.Seed, StartNs = StartNs, DurationUs = 0, Truth = TruthDetail.Presses, Building = new BuildingPlan(),
            Network = new NetworkPlan { Name = "Load", MeshUuid = ScenarioReader.UuidFrom(random.Fork("mesh")),
                IvIndex = LoadNetwork.IvIndex },
        };
        foreign = [];
        for (int i = 0; i < plan.Networks + plan.ForeignNetworks; i++)
        {
            string name = string.Create(CultureInfo.InvariantCulture, $"Network {i + 1}");
            var net = new NetKeyPlan(i, name, ScenarioReader.KeyFrom(random.Fork("net key", i)));
            var app = new AppKeyPlan(i, name, i, ScenarioReader.KeyFrom(random.Fork("app key", i)));
            if (i >= plan.Networks)
            {
                foreign.Add((net, app));
                continue;
            }
            scenario.Network.NetKeys.Add(net);
            scenario.Network.AppKeys.Add(app);
            AddNodes(plan, scenario, i, random);
        }
        if (plan.Networks > 0)
            AddSharedAids(plan, scenario, random.Fork("shared aid"));
        return scenario;
    }

    /// <summary>Draws AppKeys until enough of them have the AID of the first one (one in 64 does).</summary>
    private static void AddSharedAids(LoadPlan plan, Scenario scenario, Randomness random)
    {
        byte aid = new AppKeyMaterial(scenario.Network.AppKeys[0].Key).Aid;
        for (int found = 0; found < plan.AppKeysSharingAid;)
        {
            byte[] key = ScenarioReader.KeyFrom(random);
            if (new AppKeyMaterial(key).Aid != aid)
                continue;
            scenario.Network.AppKeys.Add(new AppKeyPlan(2000 + found, string.Create(CultureInfo.InvariantCulture, $"Shared {found + 1}"), 0,
                key));
            found++;
        }
    }

    private static void AddNodes(LoadPlan plan, Scenario scenario, int network, Randomness random)
    {
        MeshAddress group = default;
        for (int i = 0; i < plan.NodesPerNetwork; i++)
        {
            ushort unicast = (ushort)(1 + (network * plan.NodesPerNetwork) + i);
            bool panel = i % LoadNetwork.NodesPerPanel == 0;
            if (panel)
                group = new MeshAddress((ushort)(0xC000 | unicast));
            Randomness own = random.Fork("node", unicast);
            var node = new NodePlan
            {
                Name = string.Create(CultureInfo.InvariantCulture, $"{(panel ? "panel" : "lamp")} {unicast}"), Place = default,
                Unicast = new MeshAddress(unicast),
                Uuid = ScenarioReader.UuidFrom(own), DeviceKey = ScenarioReader.KeyFrom(own),
            };
            node.NetKeys.Add(network);
            node.AppKeys.Add(network);
            var element = new ElementPlan();
            var model = new ModelPlan { Id = panel ? 0x1001u : 0x1000u };
            model.Bind.Add(network);
            if (panel)
            {
                model.Publish = new PublishPlan { Address = group, AppKey = network };
                scenario.Network.Groups.Add(new GroupPlan(string.Create(CultureInfo.InvariantCulture, $"Group {unicast}"), group, null));
            }
            else
                model.Subscribe.Add(group);
            element.Models.AddRange([new ModelPlan { Id = 0x0000 }, new ModelPlan { Id = 0x0002 }, model]);
            node.Elements.Add(element);
            scenario.Nodes.Add(node);
        }
    }

    private static List<LoadNetwork> Networks(LoadPlan plan, Scenario scenario, List<(NetKeyPlan Net, AppKeyPlan App)> foreign)
    {
        var random = new Randomness(plan.Seed);
        var networks = new List<LoadNetwork>();
        for (int i = 0; i < plan.Networks + foreign.Count; i++)
        {
            bool known = i < plan.Networks;
            var (net, app) = known ? (scenario.Network.NetKeys[i], scenario.Network.AppKeys[i]) : foreign[i - plan.Networks];
            networks.Add(new LoadNetwork(net, app, (ushort)(1 + (i * plan.NodesPerNetwork)), plan.NodesPerNetwork, known,
                random.Fork("network", i)));
        }
        return networks;
    }
}
