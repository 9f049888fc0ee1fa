using System.Globalization;
using System.Text;
using System.Text.Json.Nodes;

namespace MeshTrace.Benchmarks.Accuracy;

/// <summary>What a network must have so that a fault can show in it.</summary>
[Flags]
internal enum Needs
{
    None = 0,

    /// <summary>Ten lamps or more in one group.</summary>
    Crowd = 1 << 0,

    /// <summary>Four rooms that hear only their neighbours.</summary>
    Far = 1 << 1,

    /// <summary>Presses to the group ask for answers.</summary>
    GroupAnswers = 1 << 2,

    /// <summary>A lamp that joins and is set up.</summary>
    Joining = 1 << 3,

    /// <summary>A battery panel with a Friend.</summary>
    Friendship = 1 << 4,

    /// <summary>A device that is provisioned.</summary>
    Provisioning = 1 << 5,

    /// <summary>An IV update that begins and does not end within the capture.</summary>
    IvUpdate = 1 << 6,

    /// <summary>A key refresh that is carried through.</summary>
    KeyRefresh = 1 << 7,

    /// <summary>A phone that is connected to the first relay.</summary>
    Phone = 1 << 8,
}

/// <summary>A node as drawn.</summary>
/// <param name="Name">In the scenario and its truth.</param>
/// <param name="Unicast">Primary address.</param>
/// <param name="Elements">How many.</param>
/// <param name="Room">From 0.</param>
/// <param name="IsRelay">Relays, unless a fault hinders it.</param>
internal sealed record DrawnNode(string Name, ushort Unicast, int Elements, int Room, bool IsRelay)
{
    public bool Owns(int address) => address >= Unicast && address < Unicast + Elements;
}

/// <summary>A network that was drawn: its scenario without fault, and who is who in it.</summary>
internal sealed class DrawnNetwork
{
    public required int Index { get; init; }
    public required ulong Seed { get; init; }
    public required JsonObject Scenario { get; init; }
    public required IReadOnlyList<DrawnNode> Nodes { get; init; }
    public required DrawnNode Panel { get; init; }
    public required DrawnNode Tablet { get; init; }

    /// <summary>Addressed by its unicast address, by presses and by transfers.</summary>
    public required DrawnNode Lamp { get; init; }

    /// <summary>Subscribers of the large group, <see cref="Lamp"/> first.</summary>
    public required IReadOnlyList<DrawnNode> GroupLamps { get; init; }

    /// <summary>Relays in the order of the rooms.</summary>
    public required IReadOnlyList<DrawnNode> Relays { get; init; }

    /// <summary>Two nodes that send heartbeats.</summary>
    public required IReadOnlyList<DrawnNode> Beating { get; init; }

    /// <summary>The lamp that is set up during the capture, or null.</summary>
    public DrawnNode? Joining { get; init; }

    /// <summary>The Low Power node; the first relay is its Friend. Null where there is none.</summary>
    public DrawnNode? Battery { get; init; }

    /// <summary>The device that is provisioned, or null.</summary>
    public DrawnNode? Device { get; init; }

    /// <summary>The phone, or null.</summary>
    public DrawnNode? Phone { get; init; }
    public required string Receiver { get; init; }
    public required (double X, double Y) ReceiverPlace { get; init; }

    /// <summary>Share of the packets at its antenna that the receiver gives.</summary>
    public required double HeardShare { get; init; }

    /// <summary>"hop", "three" or "37" to "39".</summary>
    public required string Channels { get; init; }

    /// <summary>Advertiser addresses never change.</summary>
    public required bool StableAddresses { get; init; }
    public required int DurationS { get; init; }

    /// <summary>Second of the press that somebody noted as "pressed, nothing happened".</summary>
    public required double NotedAtS { get; init; }

    public DrawnNode? Owner(int address) => Nodes.FirstOrDefault(node => node.Owns(address));

    public DrawnNode Named(string name) => Nodes.First(node => node.Name == name);

    /// <summary>The scenario with faults; the seed, the places and the schedule stay the same.</summary>
    public byte[] With(params IEnumerable<JsonObject> faults)
    {
        JsonObject scenario = (JsonObject)Scenario.DeepClone();
        scenario["faults"] = new JsonArray([.. faults.Select(fault => fault.DeepClone())]);
        return Encoding.UTF8.GetBytes(scenario.ToJsonString());
    }

    public override string ToString() => string.Create(CultureInfo.InvariantCulture,
        $"network {Index}: {Nodes.Count} nodes, {Relays.Count} relays, {GroupLamps.Count} in the group, share {HeardShare:F2}, channels {Channels}, {(StableAddresses ? "stable" : "changing")} addresses");
}
