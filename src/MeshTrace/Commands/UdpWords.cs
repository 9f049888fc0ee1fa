using System.Globalization;
using MeshTrace.Analysis.Description;
using MeshTrace.Captures.Udp;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Commands;

/// <summary>Tells what frames carried in UDP were found, and what to give where there may be some.</summary>
internal static class UdpWords
{
    private const int MostNamed = 5;

    /// <summary>Tells on standard error of a source that was read.</summary>
    public static void Tell(IFrameSource source, TextWriter error)
    {
        if (source is UdpSource udp)
            TellFound(udp, error);
        else if (source.Receivers.FirstOrDefault(receiver => UdpEncapsulation.IsCarrier(receiver.LinkType)) is { } carrier)
        {
            error.WriteLine($"meshtrace: {InputFile.Shown(carrier.File)} was recorded on an IP network (link type {carrier.LinkType}), which carries Bluetooth frames only inside others.");
            error.WriteLine("What to do: where receivers send what they hear in UDP, give --udp-port N, the port they send to, and --udp-link-type N, what a datagram holds: "
                + $"{string.Join(", ", UdpEncapsulation.LinkTypes)}.");
        }
    }

    private static void TellFound(UdpSource udp, TextWriter error)
    {
        UdpCounts counts = udp.Counts;
        var parts = new List<string> { $"{Count(counts[UdpFate.Datagram], "datagram")} to UDP port {udp.Encapsulation.Port.ToString(CultureInfo.InvariantCulture)}, link type {udp.Encapsulation.LinkType}, from {Senders(udp)}" };
        Add(parts, counts.CutDatagrams, "of them cut by the recorder", "of them cut by the recorder");
        Add(parts, counts[UdpFate.Fragment], "IP fragment, which is not put together", "IP fragments, which are not put together");
        Add(parts, counts[UdpFate.CutInHeaders], "packet cut before the end of its headers", "packets cut before the end of their headers");
        Add(parts, counts[UdpFate.Malformed], "packet with headers that contradict themselves", "packets with headers that contradict themselves");
        Add(parts, counts.OverLimit, $"datagram of further senders than {UdpSource.MostSenders} left out", $"datagrams of further senders than {UdpSource.MostSenders} left out");
        Add(parts, udp.ReportedDropped, "packet that the recorder reports as dropped", "packets that the recorder reports as dropped");
        error.WriteLine("meshtrace: " + string.Join("; ", parts) + ".");
        if (counts[UdpFate.Datagram] > 0)
            return;
        string[] ports = [.. counts.OtherPorts.Take(MostNamed).Select(other => string.Create(CultureInfo.InvariantCulture, $"{other.Port} ({other.Datagrams})"))];
        error.WriteLine(ports.Length == 0 ? "What to do: check that the recording was made where the receivers send to; no UDP datagram is in it."
            : $"What to do: check --udp-port; ports that datagrams went to, with their number: {string.Join(", ", ports)}.");
    }

    private static string Senders(UdpSource udp)
    {
        string[] senders = [.. udp.Senders.Select(sender => SafeText.Strip(sender.ToString())).Distinct()];
        string named = string.Join(", ", senders.Take(MostNamed)) + (senders.Length > MostNamed ? " and others" : "");
        return senders.Length == 0 ? "no sender" : $"{Count(senders.Length, "sender")} ({named}), each a receiver";
    }

    private static string Count(long count, string what) => string.Create(CultureInfo.InvariantCulture, $"{count} {what}{(count == 1 ? "" : "s")}");

    private static void Add(List<string> parts, long count, string one, string many)
    {
        if (count > 0)
            parts.Add(string.Create(CultureInfo.InvariantCulture, $"{count} {(count == 1 ? one : many)}"));
    }
}
