using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.LowerTransport;

namespace MeshTrace.Screens.Reading;

/// <summary>What a node did at a moment, the most telling last: where several fall together, the highest is shown.</summary>
internal enum Deed : byte
{
    None,
    Relayed,
    Acknowledged,
    Segment,
    Sent,
    Answered,
    Pressed,
    PressedPartly,
    PressedInVain,
}

/// <summary>One thing that a node did.</summary>
/// <param name="TimeNs">First hearing.</param>
/// <param name="Deed">What it was.</param>
/// <param name="Flood">Row of the flood.</param>
internal readonly record struct NodeDeed(long TimeNs, Deed Deed, int Flood);

/// <summary>What was heard on the air from a node, relayed PDUs included, where the sender can be named.</summary>
/// <param name="Channel37">Packets on channel 37.</param>
/// <param name="Channel38">Packets on channel 38.</param>
/// <param name="Channel39">Packets on channel 39.</param>
/// <param name="AirtimeUs">Microseconds that these packets took, at 1 Mbit/s.</param>
internal readonly record struct RadioUse(long Channel37, long Channel38, long Channel39, long AirtimeUs)
{
    public long Packets => Channel37 + Channel38 + Channel39;
}

/// <summary>
/// Each node's deeds in order of time. Made once, by the thread that reads, so that a timeline
/// of any width is drawn at once.
/// </summary>
internal sealed class NodeTracks
{
    /// <summary>Octets around a transport PDU: preamble 1, access address 4, header 2, AdvA 6, AD length and type 2, network header 9, CRC 3 (Core vol 6 part B §2.1, Mesh Protocol 1.1 §3.4.4).</summary>
    private const int OctetsAround = 27;
    private const int UsPerOctet = 8;

    public static readonly NodeTracks None = new();

    private readonly Dictionary<MeshAddress, NodeDeed[]> _deeds = [];
    private readonly Dictionary<MeshAddress, RadioUse> _radio = [];

    /// <summary>All mesh messages heard and opened, whoever sent them.</summary>
    public RadioUse All { get; private set; }

    public ReadOnlySpan<NodeDeed> Of(MeshAddress node) => _deeds.TryGetValue(node, out NodeDeed[]? deeds) ? deeds : [];

    public RadioUse RadioOf(MeshAddress node) => _radio.GetValueOrDefault(node);

    public static NodeTracks Of(CaptureHistory history)
    {
        var tracks = new NodeTracks();
        Dictionary<int, Deed> messages = DeedsOfPresses(history);
        var lists = new Dictionary<MeshAddress, List<NodeDeed>>();
        var relays = new List<MeshAddress>();
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            MeshAddress node = history.Directory.NodeOf(flood.Src);
            Add(lists, node, new NodeDeed(flood.FirstTimeNs, DeedOf(in flood, messages), row));
            relays.Clear();
            int us = UsPerOctet * (OctetsAround + flood.TransportPdu.Length + (flood.Ctl ? 8 : 4));
            foreach (FloodCopy copy in history.CopiesOf(row))
            {
                ref FrameRow frame = ref history.Frames[copy.Frame];
                tracks.All = Count(tracks.All, frame.Channel, us);
                if (history.SenderOf(copy) is not { } sender)
                    continue;
                tracks._radio[sender] = Count(tracks._radio.GetValueOrDefault(sender), frame.Channel, us);
                if (sender == node || relays.Contains(sender))
                    continue;
                relays.Add(sender);
                Add(lists, sender, new NodeDeed(frame.TimeNs, Deed.Relayed, row));
            }
        }
        foreach ((MeshAddress node, List<NodeDeed> deeds) in lists)
        {
            deeds.RemoveAll(deed => deed.TimeNs == CapturedFrame.NoTime);
            deeds.Sort((a, b) => a.TimeNs.CompareTo(b.TimeNs));
            tracks._deeds[node] = [.. deeds];
        }
        return tracks;
    }

    private static Dictionary<int, Deed> DeedsOfPresses(CaptureHistory history)
    {
        var deeds = new Dictionary<int, Deed>();
        foreach (Press press in history.Presses)
        {
            Deed deed = press.Outcome switch { PressOutcome.None => Deed.PressedInVain, PressOutcome.Some => Deed.PressedPartly, _ => Deed.Pressed };
            foreach (int message in press.Messages)
                deeds[message] = deed;
            foreach (PressAnswer answer in press.Answers)
                deeds.TryAdd(answer.Message, Deed.Answered);
        }
        return deeds;
    }

    private static Deed DeedOf(in FloodRow flood, Dictionary<int, Deed> messages)
    {
        if (flood.Message is { } message && messages.TryGetValue(message, out Deed deed))
            return deed;
        return LowerTransport.KindOf(flood.Ctl, flood.TransportPdu) switch
        {
            LowerTransportKind.SegmentAcknowledgment => Deed.Acknowledged,
            LowerTransportKind.SegmentedAccess or LowerTransportKind.SegmentedControl => Deed.Segment,
            _ => Deed.Sent,
        };
    }

    private static RadioUse Count(RadioUse use, int? channel, int us) => channel switch
    {
        37 => use with { Channel37 = use.Channel37 + 1, AirtimeUs = use.AirtimeUs + us },
        38 => use with { Channel38 = use.Channel38 + 1, AirtimeUs = use.AirtimeUs + us },
        39 => use with { Channel39 = use.Channel39 + 1, AirtimeUs = use.AirtimeUs + us },
        _ => use with { AirtimeUs = use.AirtimeUs + us },
    };

    private static void Add(Dictionary<MeshAddress, List<NodeDeed>> lists, MeshAddress node, NodeDeed deed)
    {
        if (!lists.TryGetValue(node, out List<NodeDeed>? deeds))
            lists.Add(node, deeds = []);
        deeds.Add(deed);
    }
}
