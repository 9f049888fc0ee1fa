using MeshTrace.Protocol.Provisioning;
using MeshTrace.Protocol.Security;
using MeshTrace.Synthesis.Radio;

namespace MeshTrace.Synthesis.Scenarios;

/// <summary>Provisioning in the schedule. The device key that comes of it becomes the one of the node's plan.</summary>
internal static partial class ScenarioReader
{
    private static ProvisionPlan ReadProvision(ScenarioJson json, long at, Scenario scenario)
    {
        string name = NodeOf(json, "provision", scenario), by = NodeOf(json, "by", scenario);
        NodePlan device = scenario.NodeNamed(name)!;
        if (by == name)
            throw json.WrongMember("by", "a device does not provision itself");
        var algorithm = json.TextOrNull("algorithm") switch
        {
            null or "cmac" => ProvisioningAlgorithm.CmacAes128,
            "hmac" => ProvisioningAlgorithm.HmacSha256,
            _ => throw json.WrongMember("algorithm", "\"cmac\" or \"hmac\" is expected"),
        };
        int octets = algorithm == ProvisioningAlgorithm.CmacAes128 ? 16 : 32;
        var random = new Randomness(scenario.Seed);
        Randomness own = random.Fork("provisioning " + name, scenario.Schedule.Count(known => known is ProvisionPlan));
        var plan = new ProvisionPlan
        {
            AtUs = at,
            Node = name,
            By = by,
            LinkId = (uint)(own.Fork("link").Next64() >> 32),
            Algorithm = algorithm,
            StaticOob = json.Octets("staticOob", octets),
            ProvisionerPrivateKey = json.Octets("privateKey", EllipticCurve.PrivateKeyLength) ?? PrivateKeyFrom(random.Fork("private key " + by)),
            DevicePrivateKey = PrivateKeyFrom(own.Fork("private key")),
            ProvisionerRandom = OctetsFrom(own.Fork("provisioner random"), octets),
            DeviceRandom = OctetsFrom(own.Fork("device random"), octets),
            AttentionS = (byte)json.Whole("attentionS", 0, 255, 5),
            Elements = device.Elements.Count,
        };
        if (!EllipticCurve.TryGetPublicKey(plan.ProvisionerPrivateKey, new byte[EllipticCurve.PublicKeyLength]))
            throw json.WrongMember("privateKey", "this is no private key of the curve P-256");
        device.DeviceKey = plan.Session.DeviceKey;
        return plan;
    }

    /// <summary>A number from 1 to the order of the curve less 1: others are drawn again.</summary>
    private static byte[] PrivateKeyFrom(Randomness random)
    {
        byte[] key = new byte[EllipticCurve.PrivateKeyLength];
        do
            random.Fill(key);
        while (!EllipticCurve.TryGetPublicKey(key, new byte[EllipticCurve.PublicKeyLength]));
        return key;
    }

    private static byte[] OctetsFrom(Randomness random, int count)
    {
        byte[] octets = new byte[count];
        random.Fill(octets);
        return octets;
    }
}
