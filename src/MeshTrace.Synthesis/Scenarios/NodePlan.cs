using MeshTrace.Protocol;
using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Scenarios;

/// <summary>Which edition's timers a node uses for segmented messages.</summary>
internal enum SarEdition : byte
{
    /// <summary>Mesh Profile 1.0: fixed formulas.</summary>
    V10,

    /// <summary>Mesh Protocol 1.1: SAR Transmitter and Receiver states with their defaults.</summary>
    V11,
}

/// <summary>Model Publication state (Mesh Protocol 1.1 §4.2.3).</summary>
internal sealed class PublishPlan
{
    internal required MeshAddress Address { get; set; }
    internal int AppKey { get; set; }

    /// <summary>0-127, or 255 for the node's Default TTL.</summary>
    internal int Ttl { get; set; } = 255;

    /// <summary>Publish Retransmit Count: further messages after the first, each with a new SEQ.</summary>
    internal int RetransmitCount { get; set; }
    internal int RetransmitIntervalMs { get; set; } = 50;

    /// <summary>0 = no periodic publishing.</summary>
    internal long PeriodMs { get; set; }
}

internal sealed class ModelPlan
{
    /// <summary>SIG model: 16 bits; vendor model: company identifier in the upper half.</summary>
    internal required uint Id { get; init; }
    internal List<MeshAddress> Subscribe { get; } = [];
    internal List<int> Bind { get; } = [];
    internal PublishPlan? Publish { get; set; }
    internal bool IsVendor => Id > 0xFFFF;

    /// <summary>Configuration server and client use device keys: nothing is bound to them.</summary>
    internal bool IsConfiguration => Id is 0x0000 or 0x0001;
}

internal sealed class ElementPlan
{
    internal string? Name { get; init; }
    internal ushort Location { get; init; }
    internal List<ModelPlan> Models { get; } = [];
}

internal sealed class HeartbeatPlan
{
    internal required MeshAddress Destination { get; init; }
    internal long PeriodS { get; init; } = 64;
    internal int Ttl { get; init; } = 5;
}

/// <summary>A node as planned: place, radio habits, states and models.</summary>
internal sealed class NodePlan
{
    internal required string Name { get; init; }
    internal required Place Place { get; init; }
    internal required MeshAddress Unicast { get; set; }
    internal required Guid Uuid { get; init; }
    internal required byte[] DeviceKey { get; set; }
    internal List<int> NetKeys { get; } = [];
    internal List<int> AppKeys { get; } = [];
    internal List<ElementPlan> Elements { get; } = [];
    internal Repetition NetworkTransmit { get; set; } = new(3, 20);
    internal Repetition RelayRetransmit { get; set; } = new(3, 20);

    /// <summary>0 disabled, 1 enabled, 2 not supported (the description's numbers).</summary>
    internal int Relay { get; set; }
    internal int Proxy { get; set; } = 2;
    internal int Friend { get; set; } = 2;
    internal int LowPower { get; set; } = 2;
    internal int DefaultTtl { get; set; } = 5;
    internal bool SecureNetworkBeacon { get; set; }

    /// <summary>Mesh Private beacons (§3.10.4), and after how long their random field is renewed.</summary>
    internal bool PrivateBeacon { get; set; }
    internal long PrivateBeaconRandomUs { get; init; } = 600_000_000;

    /// <summary>What a Friend has room for, and its ReceiveWindow.</summary>
    internal int FriendQueueSize { get; set; } = 16;
    internal int FriendSubscriptionListSize { get; init; } = 16;
    internal int FriendReceiveWindowMs { get; init; } = 60;

    /// <summary>Makes a Low Power node look for a Friend; null: its Low Power feature stays a word.</summary>
    internal LowPowerPlan? Friendship { get; set; }

    /// <summary>Makes the node a phone, which is in the network by the GATT bearer only; null for every other node.</summary>
    internal PhonePlan? Phone { get; set; }
    internal HeartbeatPlan? Heartbeat { get; set; }
    internal uint FirstSequence { get; set; }
    internal uint? IvIndex { get; set; }
    internal int CacheSize { get; set; } = 32;
    internal int ReplayListSize { get; set; } = 64;
    internal SarEdition Sar { get; set; } = SarEdition.V11;

    /// <summary>Attempts at a segment after which the sender gives up (1.0: whole passes).</summary>
    internal int SegmentTries { get; set; } = 4;
    internal int RelayDelayMs { get; set; } = 20;
    internal AddressHabit Address { get; init; } = AddressHabit.Static;
    internal long RotationUs { get; init; } = 900_000_000;
    internal int TxPowerDbm { get; init; }
    internal int SensitivityDbm { get; init; } = -93;
    internal ScanPlan Scan { get; init; }

    internal long ProxyIntervalUs { get; init; } = 5_000_000;

    /// <summary>False: it starts with its device key and NetKeys only; configuration messages bring the rest.</summary>
    internal bool Configured { get; init; } = true;

    /// <summary>When it is provisioned; before, it sends unprovisioned device beacons. 0 = from the start.</summary>
    internal long ProvisionedAtUs { get; init; }

    /// <summary>The TID is raised for every press; false repeats the last one (a fault).</summary>
    internal bool RaisesTid { get; set; } = true;

    /// <summary>Refuses segmented messages for lack of room: acknowledges with block 0.</summary>
    internal bool RefusesTransfers { get; set; }

    /// <summary>Its answers (Status messages) are lost on the way: from and until, in µs.</summary>
    internal List<(long FromUs, long UntilUs)> AnswersLost { get; } = [];

    /// <summary>Likewise its Segment Acknowledgments.</summary>
    internal List<(long FromUs, long UntilUs)> AcknowledgmentsLost { get; } = [];
    internal List<(long FromUs, long UntilUs)> PowerCuts { get; } = [];
    internal FaultyHabits Habits { get; } = new();

    /// <summary>0xFFFF belongs to no company (Assigned Numbers: for tests).</summary>
    internal ushort CompanyId { get; init; } = 0xFFFF;
    internal ushort ProductId { get; init; } = 1;
    internal ushort VersionId { get; init; } = 1;

    /// <summary>The models on an element that subscribe to or are reached by an address are found through this.</summary>
    internal IEnumerable<(MeshAddress Element, ModelPlan Model)> Models()
    {
        for (int i = 0; i < Elements.Count; i++)
        {
            foreach (ModelPlan model in Elements[i].Models)
                yield return (new MeshAddress((ushort)(Unicast.Value + i)), model);
        }
    }

    internal bool Owns(MeshAddress address) => address.Value >= Unicast.Value && address.Value < Unicast.Value + Elements.Count;
}
