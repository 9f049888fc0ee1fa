using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.TextLogs;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Contents;

/// <summary>
/// Takes frames in their order: one row each, and the distinct mesh contents they carry. What a frame tells by itself was prepared before; what depends on
/// those before it is read here.
/// </summary>
internal sealed class FrameIntake(CaptureHistory history, ConnectionIntake connections, TextLogIntake lines)
{
    private readonly RecorderCounters _counters = new(history.RecorderLosses);

    /// <summary>Gets the contents of a frame that is read here.</summary>
    private readonly FrameBlock _alone = new(history.Memory);

    /// <summary>Takes all frames of a block.</summary>
    public void Take(FrameBlock block)
    {
        foreach (PreparedCounter counter in block.Counters)
            _counters.Take(in counter);
        int frame = 0, content = 0;
        for (int kept = 0; kept < block.KeptCount; kept++)
        {
            int at = block.FrameOfKept(kept);
            TakePrepared(block, frame, at, ref content);
            TakeKept(block.Kept(kept));
            frame = at + 1;
        }
        TakePrepared(block, frame, block.Count, ref content);
    }

    /// <summary>The first content goes into the frame's row, further ones into a list of their own: a frame with two is rare.</summary>
    private void TakePrepared(FrameBlock block, int from, int to, ref int content)
    {
        FindContents(block, from, to, ref content);
        if (from > 0 || to < block.Count || !block.GiveRows(history.Frames))
            history.Frames.AddRange(block.Rows[from..to]);
    }

    private void FindContents(FrameBlock block, int from, int to, ref int content)
    {
        ReadOnlySpan<PreparedContent> contents = block.Contents;
        Span<FrameRow> rows = block.Rows[..to];
        int first = history.Frames.Count - from;
        for (; content < contents.Length && contents[content].Frame < to; content++)
        {
            if (content % ContentTable.MostAhead == 0)
                history.Contents.LookAhead(contents[content..]);
            ref readonly PreparedContent prepared = ref contents[content];
            int found = history.Contents.Intern(in prepared.Key, prepared.Hash);
            ref FrameRow row = ref rows[prepared.Frame];
            if (row.Content < 0)
                row.Content = found;
            else
                history.FurtherContents.Add((first + prepared.Frame, found));
        }
    }

    private void TakeKept(in CapturedFrame frame)
    {
        FrameRow row = default;
        FramePreparation.Begin(ref row, in frame);
        if (frame.LinkType == LinkType.TextLog)
        {
            lines.Take(in frame, ref row);
            history.Frames.Add(in row);
            return;
        }
        int position = 0;
        bool first = true;
        while (LinkReader.TryReadNext(in frame, ref position, out Advertisement advertisement))
        {
            if (first)
                FramePreparation.Describe(ref row, in advertisement);
            first = false;
            if (FramePreparation.IsWhole(in advertisement))
                TakeStructures(ref row, in advertisement);
            if (advertisement.TellsOfConnection)
                connections.Take(in frame, in advertisement, ref row);
        }
        if (first)
        {
            row.CarriesField = Carries.Other;
            if (ConnectionReader.MayTellWithoutAdvertisement(frame.LinkType))
                connections.Take(in frame, default, ref row);
        }
        history.Frames.Add(in row);
    }

    private void TakeStructures(ref FrameRow row, in Advertisement advertisement)
    {
        _alone.Clear();
        FramePreparation.TakeStructures(ref row, in advertisement, _alone, out Guid? device);
        if (device is { } uuid && advertisement.HasAdvertiser)
            connections.NoteDevice(advertisement.Advertiser, uuid);
        foreach (ref readonly PreparedContent prepared in _alone.Contents)
        {
            int found = history.Contents.Intern(in prepared.Key, prepared.Hash);
            if (row.Content < 0)
                row.Content = found;
            else
                history.FurtherContents.Add((history.Frames.Count, found));
        }
    }
}
