namespace MeshTrace.Synthesis.Scenarios;

/// <summary>The member "phone" of a node.</summary>
internal static partial class ScenarioReader
{
    /// <summary>Members of what a phone does not do: it has no advertising bearer, and is in the network from the start.</summary>
    private static readonly string[] NotOfAPhone =
        ["relay", "proxy", "friend", "lowPower", "friendship", "beacon", "privateBeacon", "heartbeat", "configured", "provisionedAtS"];

    private static PhonePlan? ReadPhone(ScenarioJson node, Scenario scenario)
    {
        if (node.ObjectOrNull("phone") is not { } json)
            return null;
        foreach (string member in NotOfAPhone.Where(node.Has))
            throw node.WrongMember(member, "a phone has no such thing");
        string proxy = json.Text("proxy");
        if (scenario.NodeNamed(proxy) is not { Proxy: 1 })
            throw json.WrongMember("proxy", $"no node before this one is named \"{proxy}\" and has \"proxy\": true");
        var phone = new PhonePlan
        {
            Proxy = proxy,
            FromUs = json.Seconds("fromS", 1_000_000),
            UntilUs = json.Seconds("untilS", scenario.DurationUs),
            Mtu = (ushort)json.Whole("mtu", 23, 517, 185),
        };
        if (phone.UntilUs <= phone.FromUs)
            throw json.WrongMember("untilS", "more than fromS is expected");
        json.Finish();
        return phone;
    }
}
