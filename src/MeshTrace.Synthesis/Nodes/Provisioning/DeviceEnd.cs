using MeshTrace.Protocol.Provisioning;
using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Nodes.Provisioning;

/// <summary>The device of a link (Mesh Protocol 1.1 §5.4.2): answers what the provisioner sends, and joins the network with its data.</summary>
internal sealed class DeviceEnd
{
    /// <summary>Without a provisioning PDU for so long the link is closed (§5.4.4).</summary>
    private const long PduUs = 60_000_000;

    /// <summary>A small device calculates its key pair and the shared secret for a second or so; common practice, no source.</summary>
    private const long LeastKeyUs = 600_000, MostKeyUs = 1_400_000;

    private readonly MeshNode _node;
    private readonly MeshWorld _world;
    private readonly ProvisionerEnd _peer;
    private readonly ProvisioningBearer _bearer;
    private readonly ProvisioningSession _session;
    private readonly Randomness _random;
    private Alarm? _silence;

    internal DeviceEnd(MeshNode node, MeshWorld world, LinkOpenCargo open, Randomness random)
    {
        (_node, _world, _peer, _session, _random) = (node, world, open.By, open.By.Plan.Session, random.Fork("device"));
        _bearer = new ProvisioningBearer(node, world, open.LinkId, true, open.By.Truth, random) { Received = Take, Unacknowledged = Close };
        Wait();
    }

    internal bool IsClosed { get; private set; }

    internal void Hear(ProvisioningCargo cargo)
    {
        if (IsClosed || cargo.LinkId != _bearer.LinkId)
            return;
        switch (cargo)
        {
            case LinkOpenCargo:
                byte[] generic = new byte[LinkAck.Length];
                LinkAck.Write(generic);
                _bearer.Put(0, generic, new LinkAckCargo(cargo.LinkId));
                break;
            case LinkCloseCargo { FromDevice: false }:
                Close();
                break;
            default:
                _bearer.Hear(cargo);
                break;
        }
    }

    private void Take(byte[] pdu)
    {
        Wait();
        switch ((ProvisioningPduType)pdu[0])
        {
            case ProvisioningPduType.Invite:
                _bearer.Send(_session.Capabilities);
                break;
            case ProvisioningPduType.PublicKey:
                _world.Time.After(_random.Between(LeastKeyUs, MostKeyUs), () => _bearer.Send(_session.DevicePublicKey));
                break;
            case ProvisioningPduType.Confirmation:
                _bearer.Send(_session.DeviceConfirmation);
                if (_peer.Plan.DeviceFallsSilent)
                    _world.Time.After(60_000, Close);   // a fault: it goes away with its confirmation just sent
                break;
            case ProvisioningPduType.Random when _session.DeviceAgrees:
                _bearer.Send(_session.DeviceRandom);
                break;
            case ProvisioningPduType.Random:
                _bearer.Send([(byte)ProvisioningPduType.Failed, (byte)ProvisioningError.ConfirmationFailed]);
                break;
            case ProvisioningPduType.Data:
                _bearer.Send([(byte)ProvisioningPduType.Complete]);
                _node.JoinNetwork(_peer);
                break;
        }
    }

    private void Wait()
    {
        _silence?.Cancelled = true;
        _silence = _world.Time.After(PduUs, Close);
    }

    private void Close()
    {
        IsClosed = true;
        _silence?.Cancelled = true;
        _bearer.Close();
    }
}
