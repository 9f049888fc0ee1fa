using MeshTrace.Analysis.Beacons;
using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Notes;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;

namespace MeshTrace.Reports.Tests.Support;

/// <summary>A history that holds a record of every kind, with a name of one's choice in it.</summary>
internal static class EveryKind
{
    public static CaptureHistory Of(string name = "entrance panel")
    {
        var story = new Story();
        int frame = story.Frame();
        story.Flood(0x0003, 0xC001, 100, [0x66], new FloodCopy(frame, 5));
        story.Message(0x0003, 0xC001, 100, [0x82, 0x02, 0x01, 0x07, 0x14, 0x02]);
        CaptureHistory history = story.History;
        var transfer = new Transfer
        {
            IsControl = false, Src = new MeshAddress(1), Dst = new MeshAddress(5), Seq = 0x3129AB, IvIndex = 4, SeqZero = 0x09AB, Segments = 3, Subnet = 0,
            FirstTimeNs = Story.Begin, LastTimeNs = Story.Begin + 41_250_000, Heard = 0b101, Outcome = TransferOutcome.Incomplete,
        };
        transfer.Sent.Add(new SegmentSent(0, 0, Story.Begin));
        history.Transfers = [transfer];
        history.Presses = [Story.Press(PressOutcome.Some, [0x0009, 0x000A], [0x0009])];
        history.Beacons = [new BeaconRecord { Kind = BeaconKind.Secure, NetworkId = "3ecaff672f673370", Subnet = 0, IvIndex = 4, KeyRefresh = false, IvUpdate = true, Authenticated = true, Count = 2, FirstTimeNs = Story.Begin, LastTimeNs = Story.Begin }];
        history.Provisionings = [new ProvisioningLink { LinkId = 0x23AF5850, FirstTimeNs = Story.Begin, LastTimeNs = Story.Begin, Outcome = ProvisioningOutcome.Failed, Reason = "confirmation failed" }];
        var connection = new ConnectionRecord
        {
            Receiver = 0, Handle = 0x40, HostIsCentral = true, Peripheral = 0xC3B70A4E1101, PeripheralIsRandom = true, FirstTimeNs = Story.Begin, LastTimeNs = Story.Begin,
            Mtu = 69, Proxy = MeshRecognition.Discovered, ServerAddress = new MeshAddress(3), BeginHeard = true,
        };
        connection.Services.Add(new ServiceHeard(0x1828, 0x10, 0x15));
        connection.Add(new ProxyFilterChange(Story.Begin, frame, ProxyFilterChangeKind.Added, null, [new MeshAddress(0xC001)], null));
        history.ConnectionList.Add(connection);
        history.Nodes = [new NodeRecord { Unicast = new MeshAddress(3), Elements = 2, Name = name, FirstTimeNs = Story.Begin, LastTimeNs = Story.Begin, HeardShare = 0.6, RssiMedian = -71 }];
        history.Lifecycle = [new LifecycleEvent(Story.Begin, LifecycleKind.KeyBound, 0, new MeshAddress(3), "binds AppKey 0", "message", 0)];
        history.Notes = new FieldNotes([new PlacedNote { Note = new FieldNote(2, new NoteTime(Story.Begin, false, 0), name, "rain"), TimeNs = Story.Begin }], -3_600_000_000_000);
        history.Findings = [new Finding { Id = "nobody-subscribed", Severity = Severity.Fault, Confidence = Confidence.Likely, TimeNs = Story.Begin, Press = 0, Says = $"Nobody subscribes, says {name}.", Evidence = [new Evidence("press", 0)], Remedy = "Add the subscription." }];
        return history;
    }
}
