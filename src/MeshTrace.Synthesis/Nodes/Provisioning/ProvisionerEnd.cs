using MeshTrace.Protocol.Provisioning;
using MeshTrace.Synthesis.Radio;
using MeshTrace.Synthesis.Scenarios;
using MeshTrace.Synthesis.Truth;

namespace MeshTrace.Synthesis.Nodes.Provisioning;

/// <summary>The provisioner of a link (Mesh Protocol 1.1 §5.4.2): opens it, leads the exchange, hands out the provisioning data.</summary>
internal sealed class ProvisionerEnd
{
    /// <summary>Link Open until it is answered; the link counts as not open after 60 s (§5.3.2). The second between two is ours.</summary>
    private const long EstablishUs = 60_000_000, OpenAgainUs = 1_000_000;

    /// <summary>The next provisioning PDU has this long (§5.4.4); then the link is closed.</summary>
    private const long PduUs = 60_000_000;
    private const int CloseTimes = 3;   // at least (§5.3.1.4.3)

    private readonly MeshNode _node;
    private readonly MeshWorld _world;
    private readonly ProvisionPlan _plan;
    private readonly ProvisioningTruth _truth;
    private readonly ProvisioningBearer _bearer;
    private readonly MeshNode _device;
    private Alarm? _silence;
    private bool _open, _over;

    internal ProvisionerEnd(MeshNode node, MeshWorld world, ProvisionPlan plan, Randomness random)
    {
        (_node, _world, _plan) = (node, world, plan);
        _device = world.Named(plan.Node);
        _truth = world.Truth.Provisioning(plan, node, _device, world.Time.NowUs);
        _bearer = new ProvisioningBearer(node, world, plan.LinkId, false, _truth, random)
        {
            Received = Take, Unacknowledged = () => Close(LinkCloseReason.Timeout, "timeout"),
        };
        _session = plan.Session;
    }

    private readonly ProvisioningSession _session;

    internal ProvisionPlan Plan => _plan;
    internal ProvisioningTruth Truth => _truth;

    internal void Open() => Open(_world.Time.NowUs + EstablishUs);

    internal void Hear(ProvisioningCargo cargo)
    {
        if (_over || cargo.LinkId != _bearer.LinkId)
            return;
        if (cargo is LinkAckCargo && !_open)
        {
            _open = true;
            Wait();
            _bearer.Send(_session.Invite);
        }
        else if (cargo is LinkCloseCargo { FromDevice: true })
            End("closed by the device");
        else
            _bearer.Hear(cargo);
    }

    private void Open(long untilUs)
    {
        if (_open || _over || !_node.Station.On)
            return;
        if (_world.Time.NowUs >= untilUs)
        {
            End("no answer to Link Open");
            return;
        }
        byte[] generic = new byte[LinkOpen.Length];
        LinkOpen.Write(generic, _device.Plan.Uuid);
        _bearer.Put(0, generic, new LinkOpenCargo(_bearer.LinkId, this));
        _world.Time.After(OpenAgainUs, () => Open(untilUs));
    }

    private void Take(byte[] pdu)
    {
        Wait();
        switch ((ProvisioningPduType)pdu[0])
        {
            case ProvisioningPduType.Capabilities:
                _bearer.Send(_session.Start);
                _bearer.Send(_session.ProvisionerPublicKey);
                break;
            case ProvisioningPduType.PublicKey:
                _bearer.Send(_session.ProvisionerConfirmation);
                break;
            case ProvisioningPduType.Confirmation when _plan.StopsAtConfirmation:
                End("stopped");   // a fault: the provisioner is switched off in the middle
                break;
            case ProvisioningPduType.Confirmation:
                _bearer.Send(_session.ProvisionerRandom);
                break;
            case ProvisioningPduType.Random when _session.ProvisionerAgrees:
                _bearer.Send(_node.ProvisioningDataFor(_session, _device.Unicast));
                break;
            case ProvisioningPduType.Random:
                Close(LinkCloseReason.Fail, "confirmation failed");
                break;
            case ProvisioningPduType.Complete:
                Close(LinkCloseReason.Success, "complete");
                break;
            case ProvisioningPduType.Failed:
                Close(LinkCloseReason.Fail, "confirmation failed");
                break;
        }
    }

    private void Wait()
    {
        _silence?.Cancelled = true;
        _silence = _world.Time.After(PduUs, () => Close(LinkCloseReason.Timeout, "timeout"));
    }

    private void Close(LinkCloseReason reason, string outcome)
    {
        if (_over)
            return;
        byte[] generic = new byte[LinkClose.Length];
        LinkClose.Write(generic, reason);
        // after the acknowledgment of what came last
        for (int i = 0; i < CloseTimes; i++)
            _bearer.Put(0, generic, new LinkCloseCargo(_bearer.LinkId, false, reason), 100_000 + (i * 60_000));
        End(outcome);
    }

    private void End(string outcome)
    {
        _over = true;
        _silence?.Cancelled = true;
        // its own acknowledgments still go out; nothing more is sent or taken
        _bearer.Close();
        _truth.End(_world.Time.NowUs, outcome);
    }
}
