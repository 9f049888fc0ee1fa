using System.Text.Json.Nodes;
using MeshTrace.Analysis.Completeness;

namespace MeshTrace.Benchmarks.Accuracy;

/// <summary>Cases of a phone and its proxy: the phone's log is whole, what came on the air is heard or not.</summary>
internal static partial class FaultCases
{
    private static IEnumerable<FaultCase> Phones() =>
    [
        new("proxy-filter-blocks", Needs.Phone, network => [network.Index % 2 == 0 ? Fault("proxy-filter-blocks", ("node", network.Phone!.Name))
                : Fault("proxy-filter-blocks", ("node", network.Phone!.Name), ("room", 1))],
            network => [network.Relays[0]], _ => true, "the phone's log has the filter, the description what the phone listens to"),
        new("proxy-not-forwarding", Needs.Phone, network => [Fault("proxy-not-forwarding", ("node", network.Relays[0].Name))], network => [network.Relays[0]],
            composed => OwnOnAir(composed) is var (heard, sent) && heard >= 5
                && Math.Pow(1 - ShareInterval.Of(heard, sent).Low, composed.Truth.Floods.Count(flood => composed.Network.Phone!.Owns(flood.Src) && flood.Events.Count == 0))
                    < FaultCase.MostChance,
            "the phone's log has what it wrote, and five of the proxy's own PDUs, or so many more, were heard on the air that some of it would have been"),
    ];

    /// <summary>PDUs of the proxy itself while the phone was connected: heard, and sent.</summary>
    private static (int Heard, int Sent) OwnOnAir(Composition composed)
    {
        long from = composed.Truth.StartNs + (long)(NetworkDrawing.PhoneFromS * 1e9), until = composed.Truth.StartNs + (long)(NetworkDrawing.PhoneUntilS * 1e9);
        List<TrueFlood> own = [.. composed.Truth.Floods.Where(flood => composed.Network.Relays[0].Owns(flood.Src) && flood.FirstNs > from && flood.FirstNs < until)];
        return (own.Count(flood => flood.IsHeard), own.Count);
    }
}

/// <summary>A phone that is connected to the first relay.</summary>
internal sealed partial class NetworkDrawing
{
    public const double PhoneFromS = 5, PhoneUntilS = 140;

    /// <summary>It presses for the group and listens to the second one and to the heartbeats' watch.</summary>
    private DrawnNode AddPhone(string proxy)
    {
        DrawnNode node = Add("phone", 0, false, Element(["1001"], [SecondGroup, Watch], To(Group)));
        var json = (JsonObject)_nodes[^1]!;
        json.Remove("beacon");
        json["phone"] = new JsonObject { ["proxy"] = proxy, ["fromS"] = PhoneFromS, ["untilS"] = PhoneUntilS };
        ((JsonObject)_nodes.First(item => item!["name"]!.GetValue<string>() == proxy)!)["proxy"] = true;
        return node;
    }

    private static void AddPhonePresses(JsonArray schedule, DrawnNode? phone)
    {
        for (int press = 0; phone is not null && press < 12; press++)
            schedule.Add(new JsonObject { ["atS"] = 15.7 + (press * 9.3), ["press"] = phone.Name, ["asks"] = press % 2 == 0 ? "on" : "off", ["acknowledged"] = press % 3 == 0 });
    }
}
