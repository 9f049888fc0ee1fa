using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;

namespace MeshTrace.Reports.Records;

/// <summary><c>node</c> records: one mesh node a line.</summary>
internal static class NodeRecords
{
    public static void Write(JsonLine line, CaptureHistory history, int row)
    {
        NodeRecord node = history.Nodes[row];
        line.Begin("node"u8, row);
        line.Address("unicast"u8, node.Unicast);
        line.Number("elements"u8, node.Elements);
        line.Word("name"u8, node.Name);
        line.DeviceAddresses("advertisers"u8, node.Advertisers);
        line.Number("floodsSent"u8, node.FloodsSent);
        line.Number("floodsRelayed"u8, node.FloodsRelayed);
        line.Time("firstTime"u8, node.FirstTimeNs);
        line.Time("lastTime"u8, node.LastTimeNs);
        line.Number("seqFirst"u8, node.SeqFirst);
        line.Number("seqLast"u8, node.SeqLast);
        line.Number("seqGaps"u8, node.SeqGaps);
        line.Number("heardShare"u8, node.HeardShare);
        line.Number("copiesPerPdu"u8, node.CopiesPerPdu);
        line.Number("rssiMedian"u8, node.RssiMedian);
        line.End();
    }
}
