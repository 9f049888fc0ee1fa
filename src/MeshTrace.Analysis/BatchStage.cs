using System.Buffers.Binary;
using MeshTrace.Analysis.Beacons;
using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.Contents;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Transfers;

namespace MeshTrace.Analysis;

/// <summary>
/// Takes the frames that came since the last time: opens their new contents, on so many cores, then places every copy in its flood, in order.
/// Starting again from the first frame after a key was learnt is the same work with more keys.
/// </summary>
internal sealed class BatchStage(CaptureHistory history, KeyRing keys, BeaconTable beacons, ProvisioningTable provisioning, ProxyFilterStage filters, FloodTable floods, TransportStage transport, IReadOnlyList<uint> ivIndexHints)
{
    private readonly NetworkOpener _opener = new(keys);
    private readonly IvIndexSearch _ivSearch = new(keys, history.Contents, ivIndexHints);
    private OpenedPdu[] _opened = [];
    private int _frames, _contents, _further;

    /// <summary>Frames that are not placed yet.</summary>
    public int Waiting => history.Frames.Count - _frames;

    /// <param name="cores">Cores to open contents on: one where the others are reading ahead.</param>
    /// <param name="stageBegins">Told the name of each stage when it begins.</param>
    public void Run(int cores, Action<string>? stageBegins = null)
    {
        stageBegins?.Invoke("opening");
        int firstContent = _contents;
        beacons.LearnIvIndexes(firstContent);
        _ivSearch.Run();
        int fresh = history.Contents.Count - firstContent;
        if (_opened.Length < fresh)
            _opened = new OpenedPdu[Math.Max(fresh, _opened.Length * 2)];
        _opener.Open(history.Contents, firstContent, _opened, cores);
        for (int i = 0; i < fresh; i++)
            Note(firstContent + i, in _opened[i]);
        _contents = history.Contents.Count;

        stageBegins?.Invoke("placing");
        for (int frame = _frames; frame < history.Frames.Count; frame++)
        {
            int content = history.Frames[frame].Content;
            if (content < 0)
                continue;
            history.Frames[frame].Content = Place(content, frame, firstContent, fresh);
            for (; _further < history.FurtherContents.Count && history.FurtherContents[_further].Frame == frame; _further++)
                history.FurtherContents[_further] = (frame, Place(history.FurtherContents[_further].Content, frame, firstContent, fresh));
        }
        history.PlacedFrames = _frames = history.Frames.Count;
        _contents = history.Contents.Count;     // renewed contents are placed already
    }

    /// <summary>Starts again from the first frame.</summary>
    public void Restart()
    {
        history.ClearDerived();
        floods.Clear();
        beacons.Clear();
        provisioning.Clear();
        filters.Clear();
        for (int row = 0; row < history.Contents.Count; row++)
        {
            ref ContentRow content = ref history.Contents[row];
            content.Owner = content.Next = -1;
            content.State = ContentState.New;
        }
        foreach (Subnet subnet in keys.Subnets)
            subnet.PdusOpened = 0;
        _frames = _contents = _further = 0;
    }

    private void Note(int row, in OpenedPdu opened)
    {
        ref ContentRow content = ref history.Contents[row];
        if (!content.Kind.IsNetworkPdu())
            return;
        content.State = opened.State;
        history.NetworkTries += opened.Tries;
        if (opened.State != ContentState.Opened)
            return;
        Subnet subnet = keys.Subnets[opened.Subnet];
        subnet.PdusOpened++;
        if (opened.IvIndex == subnet.IvIndex + 1 && subnet.IvIndexOrigin != IvIndexOrigin.Beacon)
            subnet.IvIndex = opened.IvIndex;    // an update passed and no beacon told
    }

    /// <summary>Places one copy; the content row may change when the flood is a new one.</summary>
    private int Place(int content, int frame, int firstContent, int fresh)
    {
        ref ContentRow row = ref history.Contents[content];
        ref FrameRow heard = ref history.Frames[frame];
        switch (row.Kind)
        {
            case ContentKind.SecureBeacon or ContentKind.PrivateBeacon or ContentKind.UnprovisionedBeacon:
                beacons.Take(content, frame, heard.TimeNs, heard.Advertiser);
                return content;
            case ContentKind.MeshMessage or ContentKind.GattFromClient or ContentKind.GattFromServer or ContentKind.TextNetworkPdu when row.State == ContentState.Opened:
                break;
            case ContentKind.ProxyConfiguration:
                filters.TakeConfiguration(row.Octets, frame);
                return content;
            case ContentKind.GattProvisioning:
                provisioning.Take(history.ConnectionProvisioning[BinaryPrimitives.ReadInt32BigEndian(row.Octets)]);
                return content;
            case ContentKind.MeshMessage or ContentKind.GattFromClient or ContentKind.GattFromServer or ContentKind.TextNetworkPdu:
                heard.ProblemField = row.State == ContentState.Malformed ? FrameProblem.Malformed : FrameProblem.UnknownNetwork;
                return content;
            default:
                provisioning.Take(content, heard.TimeNs);
                return content;
        }
        if (heard.ProblemField == FrameProblem.UnknownNetwork)
            heard.ProblemField = FrameProblem.None;
        int flood, twin;
        bool isNew;
        if (row.Owner >= 0)
            (content, flood, isNew) = floods.Repeat(content, heard.TimeNs, out twin);
        else
            (flood, isNew) = floods.Place(content, in _opened[content - firstContent], heard.TimeNs, out twin);
        if (isNew)
            transport.Take(flood, twin);
        else
            transport.RaiseTtl(flood);
        if (history.Contents[content].Kind == ContentKind.GattFromClient)
            filters.TakeClientPdu(flood, frame);
        return content;
    }
}
