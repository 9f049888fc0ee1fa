using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Nodes;

/// <summary>
/// IV update procedure (Mesh Protocol 1.1 §3.11.5) and IV index recovery (§3.11.6): begun by a node of its own accord, followed by the
/// others as authenticated beacons tell. How long the network stays in each state is the scenario's matter, as in test mode (§3.11.5.1).
/// </summary>
internal sealed partial class MeshNode
{
    /// <summary>Farthest step that IV index recovery makes, and the time between two of them.</summary>
    private const uint FarthestRecovery = 42;
    private const long RecoveryUs = 192L * 3_600_000_000;

    private bool _ivUpdateInProgress;
    private long _recoveredUs = long.MinValue / 2;

    /// <summary>While the update is in progress a node sends with the index before the one that its beacon tells.</summary>
    private uint TransmitIvIndex => _ivUpdateInProgress && !Plan.Habits.SendsWithNewIvIndex ? IvIndex - 1 : IvIndex;

    /// <summary>This node begins the update, and ends it when the plan says so.</summary>
    internal void BeginIvUpdate(IvUpdatePlan plan)
    {
        if (!Station.On || _outside || _ivUpdateInProgress)
            return;
        EnterIvIndex(IvIndex + 1, inProgress: true);
        if (plan.LastsUs is { } lasts)
            _world.Time.After(lasts, FinishIvUpdate);
    }

    private void FinishIvUpdate()
    {
        if (_ivUpdateInProgress)
            EnterIvIndex(IvIndex, inProgress: false);
    }

    /// <summary>An authenticated beacon of a NetKey that the node holds.</summary>
    private void FollowIvIndex(uint told, bool inProgress)
    {
        if (Plan.Habits.KeepsIvIndex || told < IvIndex)
            return;
        if (told == IvIndex)
        {
            if (!inProgress)
                FinishIvUpdate();
        }
        else if (told == IvIndex + 1 && !_ivUpdateInProgress)
            EnterIvIndex(told, inProgress);
        else if (told - IvIndex <= FarthestRecovery && Now - _recoveredUs >= RecoveryUs)
        {
            _recoveredUs = Now;
            EnterIvIndex(told, inProgress);
        }
    }

    /// <summary>
    /// A node does not change the index it sends with while a segmented message is under way: it waits for its end. With the first PDU of a
    /// new index SEQ starts again at 0.
    /// </summary>
    private void EnterIvIndex(uint ivIndex, bool inProgress)
    {
        uint sending = inProgress && !Plan.Habits.SendsWithNewIvIndex ? ivIndex - 1 : ivIndex;
        if (sending != TransmitIvIndex && _sending.Values.Any(sender => !sender.Finished))
        {
            _world.Time.After(500_000, () =>
            {
                if (ivIndex > IvIndex || (ivIndex == IvIndex && _ivUpdateInProgress && !inProgress))
                    EnterIvIndex(ivIndex, inProgress);
            });
            return;
        }
        bool starts = sending > TransmitIvIndex;
        (IvIndex, _ivUpdateInProgress) = (ivIndex, inProgress);
        if (starts)
            Array.Fill(_sequence, 0u);
        _world.Truth.Happened(Now, inProgress ? "iv-update-in-progress" : "iv-update-normal", this, ("ivIndex", ivIndex));
    }
}
