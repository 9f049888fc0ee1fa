using MeshTrace.Analysis.Contents;
using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Completeness;

/// <summary>Counts what no key opened, by NID, and the time that the capture spans.</summary>
internal sealed class TrafficCount(CaptureHistory history)
{
    public void Run()
    {
        CountContents(out int[] pdus, out bool[] keyMatches);
        long[] copies = new long[128];
        long first = long.MaxValue, last = long.MinValue;
        for (int row = 0; row < history.Frames.Count; row++)
        {
            ref FrameRow frame = ref history.Frames[row];
            if (frame.TimeNs != CapturedFrame.NoTime)
            {
                first = Math.Min(first, frame.TimeNs);
                last = Math.Max(last, frame.TimeNs);
            }
            if (frame.Content >= 0)
                CountUnopened(frame.Content, copies);
        }
        foreach ((_, int content) in history.FurtherContents)
            CountUnopened(content, copies);
        history.TimeSpanNs = first == long.MaxValue ? null : (first, last);
        history.UnknownNids = [.. Enumerable.Range(0, 128).Where(nid => pdus[nid] > 0)
            .Select(nid => new UnknownNid((byte)nid, pdus[nid], copies[nid], keyMatches[nid])).OrderByDescending(nid => nid.Copies)];
    }

    private void CountContents(out int[] pdus, out bool[] keyMatches)
    {
        pdus = new int[128];
        keyMatches = new bool[128];
        int distinct = 0, opened = 0;
        for (int row = 0; row < history.Contents.Count; row++)
        {
            ref ContentRow content = ref history.Contents[row];
            if (!content.Kind.IsNetworkPdu() || content.State == ContentState.Malformed || IsToldTwice(in content))
                continue;
            distinct++;
            if (content.State == ContentState.Opened)
                opened++;
            else
            {
                int nid = content.Octets[0] & 0x7F;
                pdus[nid]++;
                keyMatches[nid] |= content.State == ContentState.Failed;
            }
        }
        history.DistinctNetworkPdus = distinct;
        history.OpenedNetworkPdus = opened;
    }

    /// <summary>Heard on the air as well: it is one Network PDU.</summary>
    private bool IsToldTwice(in ContentRow content) => content.Kind != ContentKind.MeshMessage && history.Contents.Contains(ContentKind.MeshMessage, content.Octets);

    private void CountUnopened(int content, long[] copies)
    {
        ref ContentRow row = ref history.Contents[content];
        if (row.Kind.IsNetworkPdu() && row.State is ContentState.NoKey or ContentState.Failed)
            copies[row.Octets[0] & 0x7F]++;
    }
}
