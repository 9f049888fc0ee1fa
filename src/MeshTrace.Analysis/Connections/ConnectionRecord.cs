using MeshTrace.Protocol;

namespace MeshTrace.Analysis.Connections;

/// <summary>How the mesh characteristics of a connection are known.</summary>
public enum MeshRecognition : byte
{
    /// <summary>No mesh traffic was recognised.</summary>
    None,

    /// <summary>Services and characteristics were discovered in the capture.</summary>
    Discovered,

    /// <summary>Discovery was not recorded: the values themselves have the form of Proxy PDUs, and carry what fits.</summary>
    ByContent,
}

/// <summary>Whether the link layer of a connection is encrypted.</summary>
public enum LinkEncryption : byte
{
    /// <summary>Nothing of the kind was heard.</summary>
    None,

    /// <summary>Begun: from there on packets from the air are left alone. A host log has them in clear.</summary>
    Encrypted,

    /// <summary>Not heard to begin, but nothing in it reads as L2CAP: it most likely was encrypted before the capture.</summary>
    LooksEncrypted,
}

/// <summary>A GATT service heard in a discovery.</summary>
/// <param name="Uuid">16-bit UUID; null for one of another vendor, with 128 bits.</param>
/// <param name="Start">First handle.</param>
/// <param name="End">Last handle.</param>
public readonly record struct ServiceHeard(ushort? Uuid, ushort Start, ushort End);

/// <summary>What one connection carried, counted.</summary>
public sealed class ConnectionCounts
{
    /// <summary>Packets of the connection: data channel PDUs, or ACL packets.</summary>
    public int Packets { get; internal set; }

    /// <summary>Of those, received with a wrong CRC: counted for the load of the channel, never decoded.</summary>
    public int BadCrc { get; internal set; }

    /// <summary>Packets that repeat the one before them, and are dropped.</summary>
    public int Repeated { get; internal set; }

    /// <summary>Packets of an encrypted link, left alone.</summary>
    public int Encrypted { get; internal set; }

    /// <summary>Places at which packets were certainly or possibly missed; what was half received there is dropped.</summary>
    public int Gaps { get; internal set; }

    /// <summary>L2CAP frames that could not be put together.</summary>
    public int FramesLost { get; internal set; }

    /// <summary>L2CAP frames of other channels than the Attribute Protocol, or too long for it.</summary>
    public int OtherFrames { get; internal set; }

    /// <summary>PDUs of the Attribute Protocol.</summary>
    public int AttributePdus { get; internal set; }

    /// <summary>Proxy PDUs that could not be put together, or make no sense.</summary>
    public int ProxyPdusLost { get; internal set; }

    /// <summary>Network PDUs written by the client.</summary>
    public int NetworkPdusFromClient { get; internal set; }

    /// <summary>Network PDUs notified by the server.</summary>
    public int NetworkPdusFromServer { get; internal set; }

    /// <summary>Mesh beacons.</summary>
    public int Beacons { get; internal set; }

    /// <summary>Proxy configuration messages, opened or not.</summary>
    public int ConfigurationMessages { get; internal set; }

    /// <summary>Of those, how many no key opened.</summary>
    public int ConfigurationMessagesUnopened { get; internal set; }

    /// <summary>Provisioning PDUs.</summary>
    public int ProvisioningPdus { get; internal set; }
}

/// <summary>One connection between two devices: who, when, and what of the mesh ran over it.</summary>
public sealed class ConnectionRecord
{
    /// <summary>Most changes of a filter that are kept: protects memory against a client that writes without end.</summary>
    internal const int MostFilterChanges = 10_000;

    private readonly List<ProxyFilterChange> _filterChanges = [];

    /// <summary>Index of the receiver.</summary>
    public required int Receiver { get; init; }

    /// <summary>Connection handle, in a host log; else null.</summary>
    public ushort? Handle { get; init; }

    /// <summary>Access address, from the air; else null.</summary>
    public uint? AccessAddress { get; init; }

    /// <summary>Device address of the central, or null where it was not heard. In a host log of the central: null, a host does not log its own.</summary>
    public ulong? Central { get; internal set; }
    public bool CentralIsRandom { get; internal set; }

    /// <summary>Device address of the peripheral, or null.</summary>
    public ulong? Peripheral { get; internal set; }
    public bool PeripheralIsRandom { get; internal set; }

    /// <summary>The host whose log it is is the central; null where that was not heard, and from the air.</summary>
    public bool? HostIsCentral { get; internal set; }

    /// <summary>First packet or event of the connection, or no time.</summary>
    public long FirstTimeNs { get; internal set; }
    public long LastTimeNs { get; internal set; }

    /// <summary>Its beginning was heard; else the capture begins in the middle of it.</summary>
    public bool BeginHeard { get; internal set; }

    /// <summary>Reason by which it ended, as an HCI error code; null where its end was not heard.</summary>
    public byte? EndReason { get; internal set; }

    /// <summary>Between two connection events, from the air and as last set; null where it was not heard.</summary>
    public double? IntervalMs { get; internal set; }

    /// <summary>ATT_MTU as exchanged, or null where no exchange was heard: then it is 23, or was exchanged before.</summary>
    public int? Mtu { get; internal set; }

    /// <summary>Services heard in a discovery, in the order heard.</summary>
    public List<ServiceHeard> Services { get; } = [];

    /// <summary>The Mesh Proxy Service carried traffic here.</summary>
    public MeshRecognition Proxy { get; internal set; }

    /// <summary>The Mesh Provisioning Service carried traffic here.</summary>
    public MeshRecognition Provisioning { get; internal set; }
    public LinkEncryption Encryption { get; internal set; }
    public ConnectionCounts Counts { get; } = new();

    /// <summary>The proxy client's mesh address, by what it wrote, or null.</summary>
    public MeshAddress? ClientAddress { get; internal set; }

    /// <summary>The proxy server's mesh address, by its Filter Status, or null.</summary>
    public MeshAddress? ServerAddress { get; internal set; }

    /// <summary>SRC of the client's last Network PDU.</summary>
    internal MeshAddress? LastSource { get; set; }

    /// <summary>What happened to the proxy filter, in order of time; empty where nothing was heard.</summary>
    public IReadOnlyList<ProxyFilterChange> FilterChanges => _filterChanges;

    /// <summary>
    /// The proxy filter at a time, by what was heard until then. Each connection begins with an empty accept list (Mesh Protocol 1.1 §6.4); of one whose
    /// beginning was not heard <see cref="ProxyFilter.IsCertain"/> is false until the filter type is set.
    /// </summary>
    public ProxyFilter FilterAt(long timeNs)
    {
        var filter = new ProxyFilter(BeginHeard);
        foreach (ProxyFilterChange change in _filterChanges)
        {
            if (change.TimeNs > timeNs)
                break;
            filter.Apply(change);
        }
        return filter;
    }

    internal void Add(ProxyFilterChange change)
    {
        if (change.Kind != ProxyFilterChangeKind.ClientSource)
            LastSource = null;      // the list may have lost it
        if (_filterChanges.Count < MostFilterChanges)
            _filterChanges.Add(change);
    }

    /// <summary>Forgets what follows from opened PDUs, so that they can be gone through again with more keys.</summary>
    internal void ClearDerived()
    {
        _filterChanges.Clear();
        ClientAddress = ServerAddress = LastSource = null;
        Counts.ConfigurationMessagesUnopened = 0;
    }
}
