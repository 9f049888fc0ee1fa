using System.Buffers.Binary;
using MeshTrace.Analysis.Contents;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Beacons;
using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Provisioning;
using MeshTrace.Protocol.Proxy;

namespace MeshTrace.Analysis.Connections;

/// <summary>A provisioning PDU that came over a connection: too long to be kept as a content of a frame.</summary>
/// <param name="Connection">Row of the connection; -1 for a text log.</param>
/// <param name="FromDevice">The device sent it, else the provisioner.</param>
/// <param name="TimeNs">When it was whole.</param>
/// <param name="Octets">The PDU, type octet first.</param>
internal sealed record ConnectionProvisioningPdu(int Connection, bool FromDevice, long TimeNs, byte[] Octets);

/// <summary>
/// Puts whole messages of the proxy protocol among the contents of frames, so that they go the way of everything heard. The frame at hand is not in the
/// history yet; messages that were held back belong to earlier ones.
/// </summary>
internal sealed class MeshMessageSink(CaptureHistory history)
{
    private FrameRow _row;

    /// <summary>The connection at hand.</summary>
    public ConnectionRecord? Record { get; set; }
    public int Connection { get; set; } = -1;

    /// <summary>Begins with a frame.</summary>
    public void Begin(in FrameRow row) => _row = row;

    /// <summary>The frame with what was put into it.</summary>
    public FrameRow End() => _row;

    /// <summary>Takes a whole message; false if it cannot be one of its type.</summary>
    public bool Take(ProxyMessageType type, bool fromClient, ReadOnlySpan<byte> message, int frame, long timeNs)
    {
        switch (type)
        {
            case ProxyMessageType.NetworkPdu when NetworkPdu.TryRead(message, out _, out _):
                Count(record => _ = fromClient ? record.NetworkPdusFromClient++ : record.NetworkPdusFromServer++);
                Attach(frame, Carries.GattProxy, history.Contents.Intern(fromClient ? ContentKind.GattFromClient : ContentKind.GattFromServer, message));
                return true;
            case ProxyMessageType.MeshBeacon when BeaconOf(message) is { } kind:
                Count(record => record.Beacons++);
                Attach(frame, Carries.GattProxy | CarriesOf(kind), history.Contents.Intern(kind, message));
                return true;
            case ProxyMessageType.ProxyConfiguration when NetworkPdu.TryRead(message, out _, out _):
                Count(record => record.ConfigurationMessages++);
                Attach(frame, Carries.GattProxy, history.Contents.Intern(ContentKind.ProxyConfiguration, message));
                return true;
            case ProxyMessageType.ProvisioningPdu when IsProvisioning(message):
                Count(record => record.ProvisioningPdus++);
                Span<byte> number = stackalloc byte[sizeof(int)];
                BinaryPrimitives.WriteInt32BigEndian(number, history.ConnectionProvisioning.Count);
                history.ConnectionProvisioning.Add(new ConnectionProvisioningPdu(Connection, !fromClient, timeNs, message.ToArray()));
                Attach(frame, Carries.GattProvisioning, history.Contents.Intern(ContentKind.GattProvisioning, number));
                return true;
            default:
                return false;
        }
    }

    /// <summary>Puts octets that are no message of the proxy protocol among the contents of the frame at hand.</summary>
    public bool TakeContent(ContentKind kind, Carries carries, ReadOnlySpan<byte> octets)
    {
        if (octets.Length > ContentKey.MostOctets)
            return false;
        Attach(history.Frames.Count, carries, history.Contents.Intern(kind, octets));
        return true;
    }

    private void Count(Action<ConnectionCounts> count)
    {
        if (Record is not null)
            count(Record.Counts);
    }

    /// <summary>The first content goes into the frame's row, further ones, and those of frames that are gone through already, into the list.</summary>
    private void Attach(int frame, Carries carries, int content)
    {
        int current = history.Frames.Count;
        if (frame != current && frame >= history.PlacedFrames && history.Frames[frame].Content < 0)
        {
            history.Frames[frame].Content = content;
            history.Frames[frame].CarriesField |= carries;
            return;
        }
        _row.CarriesField |= carries;
        if (_row.Content < 0)
            _row.Content = content;
        else
            history.FurtherContents.Add((current, content));
    }

    /// <summary>No FCS protects it on this bearer, but each type has its length; of one that is not known nothing can be checked.</summary>
    private static bool IsProvisioning(ReadOnlySpan<byte> message) =>
        !message.IsEmpty && (ProvisioningCatalogue.Find((ProvisioningPduType)message[0]) is not { } definition || !definition.CheckLength(message.Length).IsProblem);

    private static ContentKind? BeaconOf(ReadOnlySpan<byte> message) =>
        SecureNetworkBeacon.TryRead(message, out _, out _) ? ContentKind.SecureBeacon
        : PrivateBeacon.TryRead(message, out _, out _) ? ContentKind.PrivateBeacon
        : UnprovisionedDeviceBeacon.TryRead(message, out _, out _) ? ContentKind.UnprovisionedBeacon
        : null;

    private static Carries CarriesOf(ContentKind beacon) => beacon switch
    {
        ContentKind.SecureBeacon => Carries.SecureNetworkBeacon,
        ContentKind.PrivateBeacon => Carries.PrivateBeacon,
        _ => Carries.UnprovisionedBeacon,
    };
}
