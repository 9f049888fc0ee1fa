using MeshTrace.Synthesis.Nodes.Friendship;

namespace MeshTrace.Synthesis.Scenarios;

/// <summary>The member "friendship" of a Low Power node.</summary>
internal static partial class ScenarioReader
{
    private static LowPowerPlan? ReadFriendship(ScenarioJson node, NodePlan plan, Scenario scenario)
    {
        if (node.ObjectOrNull("friendship") is not { } json)
            return null;
        if (plan.LowPower != 1)
            throw node.WrongMember("friendship", "only a node with \"lowPower\": true looks for a Friend");
        long poll = json.Seconds("pollS", 10_000_000), timeout = json.Seconds("pollTimeoutS", 60_000_000);
        // PollTimeout is 0x00000A to 0x34BBFF steps of 100 ms (Mesh Protocol 1.1 §3.6.5.3)
        if (timeout is < 1_000_000 or > 345_599_900_000)
            throw json.WrongMember("pollTimeoutS", "1 to 345599.9 s are expected");
        if (poll < 300_000 || poll >= timeout)
            throw json.WrongMember("pollS", "at least 0.3 s, and less than pollTimeoutS");
        var friendship = new LowPowerPlan
        {
            FromUs = json.Seconds("fromS", 500_000),
            PollUs = poll,
            RetryUs = json.Seconds("retryS", 2_000_000),
            Terms = new LowPowerTerms((int)json.Whole("receiveDelayMs", 10, 255, 100), timeout, (int)json.Whole("rssiFactor", 0, 3, 0),
                (int)json.Whole("receiveWindowFactor", 0, 3, 0), (int)json.Whole("minQueueSizeLog", 1, 7, 2)),
        };
        foreach (var item in json.Objects("removes"))
        {
            friendship.Removes.Add((item.Seconds("atS"), ReadAddress(item, "group", scenario) ?? throw item.WrongMember("group", "this member is needed")));
            item.Finish();
        }
        json.Finish();
        return friendship;
    }
}
