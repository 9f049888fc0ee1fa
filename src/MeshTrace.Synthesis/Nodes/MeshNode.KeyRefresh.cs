namespace MeshTrace.Synthesis.Nodes;

/// <summary>Key refresh (Mesh Protocol 1.1 §3.11.4) as a node goes through it: by Config messages, or by what beacons tell.</summary>
internal sealed partial class MeshNode
{
    private NodeKeys _keys;

    /// <summary>The node stays in the phase it was told to get stuck in (a fault): later steps leave no trace.</summary>
    private bool IsStuckBefore(int phase) => Plan.Habits.KeyRefreshStuckIn is { } stuck && phase > stuck;

    /// <summary>Phase 1. Status code for the answer, or null where a stuck node does not answer at all.</summary>
    internal byte? UpdateNetKey(SubnetKeys fresh)
    {
        const byte success = 0x00, invalidNetKeyIndex = 0x04;
        if (IsStuckBefore(1))
            return null;
        int before = _keys.PhaseOf(fresh.Index);
        if (!_keys.Update(fresh))
            return invalidNetKeyIndex;
        if (before == 0)
            TellPhase(fresh.Index, 1);
        return success;
    }

    internal void UpdateAppKey(AccessKey fresh) => _keys.Update(fresh);

    /// <summary>Config Key Refresh Phase Set: transition 2 or 3 (§4.2.14). The phase afterwards, or null where a stuck node does not
    /// answer.</summary>
    internal int? SetKeyRefreshPhase(int netKey, int transition)
    {
        if (IsStuckBefore(transition))
            return null;
        if (_keys.Transit(netKey, transition))
            TellPhase(netKey, transition);
        return _keys.PhaseOf(netKey);
    }

    /// <summary>A beacon under the new NetKey: with the flag phase 2, without it phase 3 and so back to phase 0.</summary>
    private void FollowKeyRefresh(SubnetKeys securedBy, bool keyRefresh)
    {
        if (_keys.IsNew(securedBy))
            SetKeyRefreshPhase(securedBy.Index, keyRefresh ? 2 : 3);
    }

    private void TellPhase(int netKey, int phase) =>
        _world.Truth.Happened(Now, "key-refresh-phase", this, ("netKeyIndex", netKey), ("phase", phase));
}
