using System.Globalization;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Redaction;

/// <summary>
/// Takes keys, addresses and names out of a capture that was analysed: its frames are made again under fresh keys, and a description is made that fits them. Who
/// analyses those instead gets the same account of another network, so that nothing real can be in a page, a table or an excerpt that is made of it.
/// </summary>
public sealed class CaptureRedaction
{
    private const int FramesBetweenLooks = 4_096;

    private readonly AnalysisSettings _settings;
    private readonly Pseudonyms _pseudonyms;
    private readonly ContentRedactor _contents;
    private readonly FrameRedactor _frames;
    private readonly ConnectionRedactor _connections;
    private readonly bool _hasConnections;

    /// <param name="history">The capture, analysed with the real keys.</param>
    /// <param name="settings">What it was analysed with.</param>
    /// <param name="keepsPayloads">Octets that no standard explains, in vendor messages for instance, stay as they are.</param>
    public CaptureRedaction(CaptureHistory history, AnalysisSettings settings, bool keepsPayloads = false)
    {
        ArgumentNullException.ThrowIfNull(history);
        ArgumentNullException.ThrowIfNull(settings);
        _settings = settings;
        PseudonymGenerator generator = PseudonymGenerator.For(history.Keys);
        var network = new NetworkAddresses(history);
        var addresses = new AddressPseudonyms(generator, network.All, network.Nodes, network.Labels);
        _pseudonyms = new Pseudonyms(history.Keys, generator, addresses, [.. network.Nodes.Select(node => new MeshAddress(node.First))]);
        var provisioning = new ProvisioningRedactor(history.Provisionings, _pseudonyms);
        _contents = new ContentRedactor(history, _pseudonyms, new TransportRedactor(history, _pseudonyms, new PayloadRedactor(_pseudonyms, keepsPayloads)), provisioning);
        _connections = new ConnectionRedactor(history.Connections, new ProxyMessageRedactor(history, _pseudonyms, _contents, provisioning));
        _frames = new FrameRedactor(_pseudonyms, new AdvertisingDataRedactor(history.Keys, _pseudonyms, _contents), _connections);
        _hasConnections = history.Connections.Count > 0;
        Description = RedactedDescription.Write(history, _pseudonyms, settings.Keys?.IvIndexes is [var ivIndex, ..] ? ivIndex : null);
    }

    /// <summary>The description that fits, a Mesh Configuration Database in UTF-8.</summary>
    public ReadOnlyMemory<byte> Description { get; }

    /// <summary>Frames that were left out: of what a host's log tells beside advertising and connections, and of text logs.</summary>
    public long LeftOut { get; private set; }

    /// <summary>Hearings of Network PDUs that no key opened: only their place is kept.</summary>
    public long Unopened => _contents.Unopened;

    /// <summary>Counts again from 0: the capture is gone through once more.</summary>
    public void StartOver()
    {
        LeftOut = 0;
        _contents.StartOver();
    }

    /// <summary>What an address of the capture is in its place.</summary>
    public MeshAddress AddressOf(MeshAddress address) => _pseudonyms.Addresses.Of(address);

    /// <summary>What to analyse the redacted frames with.</summary>
    /// <remarks>Notes from the field are words of people, and left out.</remarks>
    public AnalysisSettings Settings() => new() { Description = NetworkDescriptionReader.Read(Description, "description"), Cores = _settings.Cores };

    /// <summary>
    /// Looks at the packets of connections, whose messages lie in pieces; to be called once, before any frame is redacted. Without it they become empty.
    /// </summary>
    /// <param name="open">Opens the same captures anew; not called where there is no connection.</param>
    /// <param name="stop">Stops reading.</param>
    public void LookAtConnections(Func<IFrameSource> open, CancellationToken stop = default)
    {
        ArgumentNullException.ThrowIfNull(open);
        if (!_hasConnections)
            return;
        using IFrameSource source = open();
        for (int row = 0; source.TryReadNext(out CapturedFrame frame); row++)
        {
            if (row % FramesBetweenLooks == 0)
                stop.ThrowIfCancellationRequested();
            _connections.Take(row, in frame);
        }
    }

    /// <summary>The same frames with pseudonyms in them.</summary>
    /// <param name="source">Of the same captures, opened anew.</param>
    public RedactingSource Read(IFrameSource source) => new(source, this);

    /// <summary>The same receivers without their names.</summary>
    public static IReadOnlyList<ReceiverDescription> Redact(IReadOnlyList<ReceiverDescription> receivers)
    {
        ArgumentNullException.ThrowIfNull(receivers);
        return
        [
            .. receivers.Select(receiver => receiver with
            {
                File = FileName(receivers, receiver.File),
                Interface = receiver.Interface is null ? null : string.Create(CultureInfo.InvariantCulture, $"receiver {receiver.Index + 1}"),
            }),
        ];
    }

    /// <summary>Writes what takes a frame's place.</summary>
    /// <param name="row">Of the frame, counted from 0 over all captures.</param>
    /// <param name="frame">As captured.</param>
    /// <param name="octets">At least as long as the frame's own.</param>
    /// <returns>False where the frame is left out.</returns>
    public bool TryRedact(int row, in CapturedFrame frame, Span<byte> octets)
    {
        if (_frames.TryRedact(row, in frame, octets[..frame.Octets.Length]))
            return true;
        LeftOut++;
        return false;
    }

    internal static string FileName(IReadOnlyList<ReceiverDescription> receivers, string file)
    {
        List<string> files = [.. receivers.Select(receiver => receiver.File).Distinct()];
        return string.Create(CultureInfo.InvariantCulture, $"capture {files.IndexOf(file) + 1}");
    }
}
