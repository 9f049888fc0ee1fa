using System.Text;
using System.Text.Json;
using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Repeats;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;
using MeshTrace.Reports.Tests.Support;

namespace MeshTrace.Reports.Tests.Page;

/// <summary>A history that fills every part of the page.</summary>
internal static class PageStory
{
    /// <summary>The name as that of network, node, element, group, key, file, interface, note, finding, damage.</summary>
    public static CaptureHistory Of(string name = "entrance panel")
    {
        CaptureHistory history = EveryKind.Of(name);
        string json = JsonSerializer.Serialize(name);
        history.Directory = new NodeDirectory(NetworkDescriptionReader.Read(Encoding.UTF8.GetBytes("""
            {"$schema":"http://json-schema.org/draft-04/schema#","id":"x","version":"1.0.0","meshUUID":"00000000-0000-4000-8000-000000000001","meshName":NAME,"timestamp":"2026-03-01T00:00:00Z","partial":false,
            "netKeys":[{"name":NAME,"index":0,"key":"0123456789ABCDEF0123456789ABCDEF","phase":0,"minSecurity":"secure","timestamp":"2026-03-01T00:00:00Z"}],"appKeys":[],"provisioners":[],
            "nodes":[{"UUID":"00000000-0000-4000-8000-000000000002","name":NAME,"unicastAddress":"0003","security":"secure","netKeys":[{"index":0,"updated":false}],"appKeys":[],"configComplete":true,"excluded":false,
            "elements":[{"name":NAME,"index":0,"location":"0000","models":[{"modelId":"1001","subscribe":["C001"],"bind":[],"publish":{"address":"C001","index":0,"ttl":5,"period":{"numberOfSteps":0,"resolution":100},"retransmit":{"count":0,"interval":50},"credentials":0}}]}]}],
            "groups":[{"name":NAME,"address":"C001","parentAddress":"0000"}],"scenes":[],"networkExclusions":[]}
            """.Replace("NAME", json, StringComparison.Ordinal)), "library.json"));
        history.Configuration = ConfigurationHeard.Read(history);
        history.NodeModels = new NodeModels(history.Directory, history.Configuration, history.Provisionings);
        history.Receivers = [new ReceiverDescription(0, name, name, LinkType.LeLinkLayerWithRadioHeader)];
        history.Damages = [new CaptureDamage(name, 12, name)];
        history.TimeSpanNs = (Story.Begin - Story.Second, Story.Begin + Story.Second);
        history.Nodes[0].FloodsSent = 1;
        history.ReceiverViews = [new ReceiverView(0, ChannelPlan.AllAtOnce, null, 90, 30, 31, 29, 1)];
        history.Hops = new HopStatistics([new RelayLink(new MeshAddress(3), new MeshAddress(15), 7), new RelayLink(new MeshAddress(15), new MeshAddress(3), 2)], [], [4, 7], [null, null]);
        history.MessageRepeats = [new RepeatedMessage(RepeatKind.Publication, [0, 0, 0], [50, 50])];
        history.Deafness = new DeafTimes([new DeafSpan(0, Story.Begin - Story.Second, Story.Begin - (Story.Second / 2), DeafReason.Silence, 0)], 1);
        return history;
    }
}
