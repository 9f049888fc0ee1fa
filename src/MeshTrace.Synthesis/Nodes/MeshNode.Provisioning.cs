using MeshTrace.Protocol;
using MeshTrace.Protocol.Security;
using MeshTrace.Synthesis.Nodes.Provisioning;
using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>Provisioning over the advertising bearer (Mesh Protocol 1.1 §5): as provisioner and as device.</summary>
internal sealed partial class MeshNode
{
    private readonly List<ProvisionerEnd> _provisioning = [];
    private DeviceEnd? _provisioned;
    private (SubnetKeys Keys, int Phase, uint IvIndex, bool IvUpdate) _handedOut;

    /// <summary>While a link is open a device sends no unprovisioned device beacons (§5.4.2.1).</summary>
    private bool IsBeingProvisioned => _provisioned is { IsClosed: false };

    internal void Provision(ProvisionPlan plan)
    {
        if (!Station.On || _outside)
            return;
        var end = new ProvisionerEnd(this, _world, plan, _random.Fork("provisioner", plan.LinkId));
        _provisioning.Add(end);
        end.Open();
    }

    internal void SendProvisioning(byte[] advData, ProvisioningCargo cargo) => _bearer.Send(advData, Once, 0, cargo);

    private void HearProvisioning(ProvisioningCargo cargo)
    {
        if (!Station.On)
            return;
        if (cargo is LinkOpenCargo open && open.By.Plan.Node == Plan.Name && _outside && (_provisioned is null or { IsClosed: true }))
            _provisioned = new DeviceEnd(this, _world, open, _random.Fork("device", open.LinkId));
        _provisioned?.Hear(cargo);
        foreach (ProvisionerEnd end in _provisioning)
            end.Hear(cargo);
    }

    /// <summary>What a provisioner hands out: its NetKey, the network's state, the device's address.</summary>
    internal byte[] ProvisioningDataFor(ProvisioningSession session, MeshAddress unicast)
    {
        int index = Plan.NetKeys[0];
        _handedOut = (_keys.Sending(index), _keys.PhaseOf(index), IvIndex, _ivUpdateInProgress);
        return session.Data(_handedOut.Keys, _handedOut.Phase == 2, IvIndex, _ivUpdateInProgress, unicast);
    }

    /// <summary>The device has its data: from now on it is a node, and its SEQ starts at 0.</summary>
    internal void JoinNetwork(ProvisionerEnd provisioner)
    {
        MeshNode from = _world.Named(provisioner.Plan.By);
        _keys = new NodeKeys(_world.Keys, from._handedOut.Keys, from._keys);
        (IvIndex, _ivUpdateInProgress) = (from._handedOut.IvIndex, from._handedOut.IvUpdate);
        DeviceKey = new AccessKey(new AesKey(provisioner.Plan.Session.DeviceKey), 0, null, this);
        Array.Fill(_sequence, 0u);
        _elements = [.. Plan.Elements.Select(Bare)];
        _appKeys.Clear();
        _outside = false;
        _world.Truth.Happened(Now, "provisioned", this, from);
        StartOwnClocks(Now);
    }
}
