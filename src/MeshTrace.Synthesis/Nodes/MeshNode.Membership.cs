using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>Whether the node is in a network: it leaves by Config Node Reset (Mesh Protocol 1.1 §4.4.1.2.12).</summary>
internal sealed partial class MeshNode
{
    /// <summary>In no network: not yet provisioned by a provisioner, or reset.</summary>
    private bool _outside;

    /// <summary>Raised when the node leaves a network: what was due in it no longer happens.</summary>
    private int _life;

    private bool Provisioned => !_outside && Now >= Plan.ProvisionedAtUs;

    internal void LeaveNetworkAfter(long delayUs) => After(delayUs, LeaveNetwork);

    /// <summary>The node has answered Config Node Reset: it forgets the network and shows itself as a device in none.</summary>
    private void LeaveNetwork()
    {
        if (_outside)
            return;
        _outside = true;
        _life++;
        _friend?.EndAll("reset");
        _appKeys.Clear();
        _elements = [.. Plan.Elements.Select(Bare)];
        _world.Truth.Happened(Now, "node-reset", this);
        if (!Plan.Habits.KeepsBeaconing)
            _world.Time.After(_random.Below(2_000_000), SendUnprovisionedBeacon);
    }

    /// <summary>Calls after some time, if the node is still in the same network then.</summary>
    private Alarm After(long delayUs, Action call) => At(Now + delayUs, call);

    private Alarm At(long timeUs, Action call)
    {
        int life = _life;
        return _world.Time.At(timeUs, () =>
        {
            if (life == _life)
                call();
        });
    }
}
