using System.Diagnostics.CodeAnalysis;
using MeshTrace.Captures.Udp;
using MeshTrace.Protocol.Link;
using SharpPcap;
using SharpPcap.LibPcap;

namespace MeshTrace.Captures.Live;

/// <summary>An interface as the system tells of it.</summary>
/// <param name="Name">To be given.</param>
/// <param name="Description">In the system's words, or null.</param>
/// <param name="LinkType">What its frames are; null where it cannot be opened.</param>
/// <param name="Problem">Why it cannot be opened, or null.</param>
public sealed record InterfaceDescription(string Name, string? Description, LinkType? LinkType, string? Problem);

/// <summary>An interface of this machine, by way of libpcap: one that gives Bluetooth frames itself, or one of the building's network, on which receivers send them in UDP.</summary>
/// <param name="name">As the system calls it.</param>
/// <param name="udp">How frames are carried in UDP, or null.</param>
[SuppressMessage("Design", "CA1001", Justification = "What it owns is disposed by the thread that reads.")]
public sealed class LiveInterface(string name, UdpEncapsulation? udp = null) : LiveInput(name)
{
    private const int ReadTimeoutMs = 100, BufferOctets = 16 * 1024 * 1024, LongestFrame = 65_535;
    private const string NoLibrary = "libpcap is not on this machine, and interfaces can be received from through it alone";
    private const string GetLibrary = "Install it (Debian: libpcap0.8), or let another program record and read its file with --from.";

    /// <summary>Link types whose frames are Bluetooth ones.</summary>
    public static IReadOnlyList<LinkType> LinkTypes => UdpEncapsulation.LinkTypes;

    private InterfaceSource? _interface;
    private UdpSource? _carried;
    private Thread? _thread;

    public override IReadOnlyList<UdpSource> UdpSources => _carried is null ? [] : [_carried];

    public override long Position => _interface?.Position ?? 0;

    public override long LostBefore => _interface?.Lost ?? 0;

    /// <summary>All interfaces that this machine tells of.</summary>
    /// <exception cref="CaptureLiveException">There is no libpcap.</exception>
    public static IReadOnlyList<InterfaceDescription> List()
    {
        var list = new List<InterfaceDescription>();
        foreach (LibPcapLiveDevice device in Devices())
        {
            try
            {
                Open(device, promiscuous: false);
                list.Add(new InterfaceDescription(device.Name, device.Description, new LinkType((int)device.LinkType), null));
            }
            catch (PcapException problem)
            {
                list.Add(new InterfaceDescription(device.Name, device.Description, null, problem.Message.TrimEnd('.')));
            }
            finally
            {
                device.Dispose();
            }
        }
        return list;
    }

    /// <summary>True if frames of this link type can be received: Bluetooth ones, or those of an IP network where frames are looked for in UDP.</summary>
    public static bool IsSuitable(LinkType linkType, UdpEncapsulation? udp) => udp is null ? LinkTypes.Contains(linkType) : UdpEncapsulation.IsCarrier(linkType) || LinkTypes.Contains(linkType);

    protected override void Begin(CancellationToken stop)
    {
        LibPcapLiveDevice device = Find();
        try
        {
            Open(device, promiscuous: udp is not null);
        }
        catch (PcapException problem)
        {
            device.Dispose();
            throw Refused(problem);
        }
        var linkType = new LinkType((int)device.LinkType);
        if (!IsSuitable(linkType, udp))
        {
            device.Dispose();
            throw new CaptureLiveException($"interface '{Name}' gives frames of link type {linkType}, which are no Bluetooth frames",
                UdpEncapsulation.IsCarrier(linkType) ? "Where receivers send what they hear in UDP, give --udp-port N and --udp-link-type N; else choose another interface: --list-interfaces shows them."
                    : "Choose another interface: --list-interfaces shows them.");
        }
        if (udp is not null && UdpEncapsulation.IsCarrier(linkType))
            Filter(device, udp.Port);
        _thread = new Thread(() => Run(device, stop)) { IsBackground = true, Name = "receiving" };
        _thread.Start();
    }

    public override void Join(TimeSpan longest) => _thread?.Join(longest);

    [SuppressMessage("Reliability", "CA2000", Justification = "Disposed by the using of what owns it.")]
    private void Run(LibPcapLiveDevice device, CancellationToken stop)
    {
        IFrameSource source = _interface = new InterfaceSource(device, stop);
        if (udp is not null)
            source = _carried = new UdpSource(_interface, udp);
        using (source)
        {
            var numbers = new List<int>();
            while (source.TryReadNext(out CapturedFrame frame))
            {
                Meet(source, numbers);
                if (!Queue.Put(Lane, in frame, numbers[frame.Receiver], waits: false))
                    break;
            }
            Meet(source, numbers);
            if (source.Damage is { } damage)
                Notice($"'{Name}': {damage.Says}");
        }
        TellEnd();
    }

    private LibPcapLiveDevice Find()
    {
        LibPcapLiveDevice? found = null;
        var names = new List<string>();
        foreach (LibPcapLiveDevice device in Devices())
        {
            names.Add(device.Name);
            if (found is null && device.Name == Name)
                found = device;
            else
                device.Dispose();
        }
        return found ?? throw new CaptureLiveException($"there is no interface '{Name}'",
            names.Count == 0 ? "This program sees none at all: it may need more rights." : $"There are {string.Join(", ", names)}; --list-interfaces tells which are suitable.");
    }

    private CaptureLiveException Refused(PcapException problem) => new($"interface '{Name}' cannot be opened: {problem.Message.TrimEnd('.')}",
        "Receiving from an interface may need more rights (root, or the capability CAP_NET_RAW), and the interface must be up; or let another program record and read its file with --from.", problem);

    private static LibPcapLiveDeviceList Devices()
    {
        try
        {
            return LibPcapLiveDeviceList.New();
        }
        catch (Exception problem) when (problem is DllNotFoundException or TypeInitializationException)
        {
            throw new CaptureLiveException(NoLibrary, GetLibrary, problem);
        }
        catch (PcapException problem)
        {
            throw new CaptureLiveException($"the interfaces of this machine cannot be listed: {problem.Message.TrimEnd('.')}", "It may need more rights.", problem);
        }
    }

    private static void Open(LibPcapLiveDevice device, bool promiscuous) => device.Open(new DeviceConfiguration
    {
        Mode = promiscuous ? DeviceModes.Promiscuous : DeviceModes.None, ReadTimeout = ReadTimeoutMs, BufferSize = BufferOctets, Snaplen = LongestFrame,
    });

    /// <summary>What is not for the port never comes to this program; a system that cannot do that lets all come.</summary>
    private static void Filter(LibPcapLiveDevice device, int port)
    {
        try
        {
            device.Filter = FormattableString.Invariant($"udp dst port {port} or (vlan and udp dst port {port})");
        }
        catch (PcapException)
        {
            // they are looked at one by one
        }
    }
}
