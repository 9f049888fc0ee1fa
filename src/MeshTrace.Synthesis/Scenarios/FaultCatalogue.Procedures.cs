namespace MeshTrace.Synthesis.Scenarios;

/// <summary>Faults in the procedures of the network: provisioning, friendship, IV update, key refresh.</summary>
internal static partial class FaultCatalogue
{
    private static IEnumerable<FaultDefinition> ProcedureRows() =>
    [
        new("provisioning-failed",
            "provisioning of `node` fails by `how`: `confirmation` (the device takes another value for the authentication), "
            + "`timeout` (the device is gone after its confirmation), `stops` (the provisioner is)", true,
            (scenario, json) =>
            {
                NodePlan device = Node(scenario, json);
                string how = json.TextOrNull("how") ?? "confirmation";
                var plans = scenario.Schedule.OfType<ProvisionPlan>().Where(plan => plan.Node == device.Name).ToList();
                if (plans.Count == 0)
                    throw json.WrongMember("node", "nobody provisions this node");
                scenario.Description.OmitNodes.Add(device.Name);
                foreach (ProvisionPlan plan in plans)
                {
                    switch (how)
                    {
                        case "confirmation":
                            plan.DeviceAuthValue = [.. plan.AuthValue.Select(octet => (byte)(octet ^ 0x5A))];
                            break;
                        case "timeout":
                            plan.DeviceFallsSilent = true;
                            break;
                        case "stops":
                            plan.StopsAtConfirmation = true;
                            break;
                        default:
                            throw json.WrongMember("how", "\"confirmation\", \"timeout\" or \"stops\" is expected");
                    }
                }
            }),
        new("provisioning-repeats", "`node` acknowledges provisioning transactions `delayMs` (2500) too late: each is sent again and again", false,
            (scenario, json) => Node(scenario, json).Habits.ProvisioningAckDelayUs = json.Whole("delayMs", 100, 20_000, 2500) * 1000),
        new("still-unprovisioned", "`node` goes on with unprovisioned device beacons once it has joined", false,
            (scenario, json) => Node(scenario, json).Habits.KeepsBeaconing = true),
        new("friend-lost", "the Friend `node` answers no Friend Poll from `fromS` to `untilS`", false,
            (scenario, json) => Node(scenario, json).Habits.PollsUnanswered.Add(Span(scenario, json))),
        new("friend-offers-none", "`node` (or every node) answers no Friend Request", false,
            (scenario, json) => NodesOf(scenario, json).ForEach(node => node.Habits.OffersNothing = true)),
        new("friend-queue-overflow", "the Friend Queue of `node` has room for `size` (2) messages, and Low Power nodes ask for no more", false,
            (scenario, json) =>
            {
                Node(scenario, json).FriendQueueSize = (int)json.Whole("size", 2, 255, 2);
                foreach (LowPowerPlan plan in scenario.Nodes.Select(node => node.Friendship).OfType<LowPowerPlan>())
                    plan.Terms = plan.Terms with { MinQueueSizeLog = 1 };
            }),
        new("iv-update-out-of-time",
            "every IV update of the schedule stays in progress for `lastsS`; without it the update does not end; "
            + "with `node` instead: that node sends with the new IV index while the update is in progress", false,
            (scenario, json) =>
            {
                if (json.Has("node"))
                {
                    Node(scenario, json).Habits.SendsWithNewIvIndex = true;
                    return;
                }
                long? lasts = json.Has("lastsS") ? json.Seconds("lastsS") : null;
                foreach (IvUpdatePlan plan in scenario.Schedule.OfType<IvUpdatePlan>())
                    plan.LastsUs = lasts;
            }),
        new("key-refresh-stuck", "`node` does not leave phase `phase` (1) of a key refresh: later steps leave it without an answer", false,
            (scenario, json) => Node(scenario, json).Habits.KeyRefreshStuckIn = (int)json.Whole("phase", 0, 2, 1)),
    ];
}
