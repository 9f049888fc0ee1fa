using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.UpperTransport.Control;

namespace MeshTrace.Analysis.Findings.Rules.Friendship;

/// <summary>A node that is set to send heartbeats (Mesh Protocol 1.1 §3.6.7) sends none for three periods or more.</summary>
internal sealed class HeartbeatSilent : IFindingRule
{
    private const int EnoughPeriods = 3;

    /// <summary>The first one after it was set may take this share of a period longer (ours).</summary>
    private const double Late = 0.5;

    /// <summary>Many nodes send heartbeats, and each has its longest silence: the chance is multiplied by their number, and has to be below this then (ours).</summary>
    private const double MostChance = 0.02;

    /// <summary>The same where the node used so many numbers that nobody heard that the heartbeats may be among them (ours).</summary>
    private const double MostChanceWithNumbers = 0.004;

    private const byte WithoutEnd = 0xFF;

    public string Id => "heartbeat-silent";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        List<Expected> expected = [.. ExpectedOf(history)];
        if (expected.Count == 0 || history.TimeSpanNs is not { } span)
            return;
        Dictionary<MeshAddress, List<(long TimeNs, int Message)>> heard = HeardOf(history);
        var numbers = new SequenceNeighbours(history, expected.Select(one => one.Node));
        foreach (Expected one in expected)
            Judge(history, findings, numbers, one, heard.GetValueOrDefault(one.Node) ?? [], span, expected.Count);
    }

    private void Judge(CaptureHistory history, FindingSink findings, SequenceNeighbours numbers, Expected one, List<(long TimeNs, int Message)> beats, (long First, long Last) span, int nodes)
    {
        long since = Math.Max(one.SinceNs, span.First);
        // A finite number of heartbeats may have run out; unknown, it may have as well where none was heard for the rest of the capture.
        if (one.Count is { } count && beats.Count(beat => beat.TimeNs >= one.SinceNs) >= count)
            return;
        (long FromNs, long ToNs, int Before)? longest = null;
        long from = since;
        int before = -1;
        foreach ((long timeNs, int message) in beats.Where(beat => beat.TimeNs >= since))
        {
            Take(timeNs);
            (from, before) = (timeNs, message);
        }
        Take(span.Last);
        if (longest is not { } silence)
            return;
        int missed = (int)Math.Floor((Wording.Seconds(silence.FromNs, silence.ToNs) / one.PeriodSeconds) - Late);
        if (missed < EnoughPeriods || MayHaveAnotherKey(history, one.Node, silence.FromNs, silence.ToNs))
            return;
        double missChance = Math.Min(1, nodes * MissChance(findings.Weighing, one, beats, (since, span.Last), silence, missed));
        if (findings.Weighing.Judge(Id, one.Node, missChance) is not Confidence.Likely
            || missChance >= (NumbersLeaveRoom(numbers, one, silence.FromNs, silence.ToNs) ? MostChanceWithNumbers : MostChance))
            return;
        bool cameBack = silence.ToNs < span.Last;
        bool sure = one.Endless || cameBack;
        string last = silence.Before >= 0 ? "" : beats.Count == 0 ? ": none was heard at all" : ": the first came only after";
        findings.Add(Id, sure ? Confidence.Likely : Confidence.Possible, silence.FromNs, one.Node, null,
            $"{history.Called(one.Node)} sent no heartbeat for {Wording.Span(Wording.Seconds(silence.FromNs, silence.ToNs))}, though one is due every {Wording.Span(one.PeriodSeconds)}{last}.",
            [.. silence.Before >= 0 ? [new Evidence("message", silence.Before)] : Array.Empty<Evidence>(), .. one.Message >= 0 ? [new Evidence("message", one.Message)] : Array.Empty<Evidence>()],
            sure ? null : "See whether the node has power, and whether its number of heartbeats has run out (Config Heartbeat Publication Get: CountLog).");

        void Take(long until)
        {
            if (longest is not { } known || Wording.Seconds(from, until) > Wording.Seconds(known.FromNs, known.ToNs))
                longest = (from, until, before);
        }
    }

    /// <summary>
    /// Chance that the heartbeats of a silence were sent and missed: by the share of the node's PDUs that is heard; and by the heartbeats alone, were those
    /// heard strewn over all that were due, for they may be heard less well than the rest. It is the longest of many silences: each place where it might
    /// lie counts, unless it has begin or end with the capture.
    /// </summary>
    private static double MissChance(Weighing weighing, Expected one, List<(long TimeNs, int Message)> beats, (long From, long To) whole, (long FromNs, long ToNs, int Before) silence, int missed)
    {
        int heard = beats.Count(beat => beat.TimeNs >= whole.From);
        int due = Math.Max(heard + missed, (int)Math.Floor(Wording.Seconds(whole.From, whole.To) / one.PeriodSeconds));
        bool atAnEnd = silence.ToNs == whole.To || silence.Before < 0;
        double strewn = 1;
        for (int at = 0; at < heard; at++)
            strewn *= (due - missed - at) / (double)(due - at);
        int places = atAnEnd ? 2 : due - missed + 1;
        double byNode = Math.Min(1, places * weighing.MissChance(one.Node, missed, silence.FromNs, silence.ToNs));
        double byBeats = heard == 0 ? byNode : Math.Min(1, places * strewn);
        // Each has to tell something, and the two together much: their geometric mean counts.
        return Math.Max(byNode, byBeats) >= Weighing.LikelyBelow ? 1 : Math.Sqrt(byNode * byBeats);
    }

    /// <summary>True if the node used as many numbers as heartbeats were due between the last one and the last that was heard of it in the silence, and nobody heard them.</summary>
    private static bool NumbersLeaveRoom(SequenceNeighbours numbers, Expected one, long fromNs, long toNs)
    {
        if (numbers.LastWithin(one.Node, fromNs + 1, toNs) is not { } lastNs || numbers.UnheardOfElement(one.Node, fromNs + 1, lastNs - 1) is not { } unheard)
            return false;
        return unheard >= Math.Floor((Wording.Seconds(fromNs, lastNs) / one.PeriodSeconds) - Late);
    }

    /// <summary>Keys of a refresh were given out, and in the later half of the silence nothing of the node was heard at all: it may send with one that was not heard.</summary>
    private static bool MayHaveAnotherKey(CaptureHistory history, MeshAddress node, long fromNs, long toNs)
    {
        long given = long.MinValue;
        foreach (LifecycleEvent one in history.Lifecycle)
            if (one.Kind is LifecycleKind.KeyRefreshPhase or LifecycleKind.KeyHandedOut && one.TimeNs < toNs)
                given = Math.Max(given, one.TimeNs);
        if (given == long.MinValue)
            return false;
        long since = Math.Max(given, fromNs + ((toNs - fromNs) / 2));
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (flood.FirstTimeNs > since && flood.FirstTimeNs < toNs && history.Directory.NodeOf(flood.Src) == node)
                return false;
        }
        return true;
    }

    /// <summary>Nodes that should send heartbeats to the end of the capture: by the last Config message heard, else by the description.</summary>
    private static IEnumerable<Expected> ExpectedOf(CaptureHistory history)
    {
        foreach (NodeModel model in history.NodeModels?.All ?? [])
        {
            ConfigChange? set = model.Changes.LastOrDefault(change => change.Kind == ConfigKind.HeartbeatPublication && change.Standing != ConfigStanding.Refused);
            if (model.At(long.MaxValue).OutOfNetwork is { IsKnown: true, Holds: true })
                continue;
            if (set is not null)
            {
                if (set.Standing == ConfigStanding.Confirmed && set.Address.Address != MeshAddress.Unassigned && Read(history, set, "PeriodLog") is > 0 and <= 0x11 and var period
                    && Read(history, set, "CountLog") is > 0 and var count)
                    yield return new Expected(model.Unicast, 1L << (period - 1), set.StatusTimeNs ?? set.TimeNs, set.Message, count == WithoutEnd,
                        count is > 0 and <= 0x11 ? 1L << (count - 1) : null);
            }
            else if (history.Directory.Description?.NodeAt(model.Unicast)?.HeartbeatPublication is { PeriodSeconds: > 0 and <= 65_536 } described
                && described.Destination.Address != MeshAddress.Unassigned && model.Unicast == history.Directory.NodeOf(model.Unicast) && model.ProvisionedAtNs is null)
                yield return new Expected(model.Unicast, described.PeriodSeconds.Value, long.MinValue, -1, false, null);
        }
    }

    private static int Read(CaptureHistory history, ConfigChange set, string field) =>
        AccessReader.TryReadNumber(history.PayloadOf(set.Message), field, out long value) ? (int)value : 0;

    private static Dictionary<MeshAddress, List<(long TimeNs, int Message)>> HeardOf(CaptureHistory history)
    {
        var heard = new Dictionary<MeshAddress, List<(long TimeNs, int Message)>>();
        for (int row = 0; row < history.Messages.Count; row++)
        {
            ref MessageRow message = ref history.Messages[row];
            if (!message.IsControl || message.Opcode.Value != Heartbeat.Opcode || message.TimeNs == CapturedFrame.NoTime)
                continue;
            MeshAddress node = history.Directory.NodeOf(message.Src);
            if (!heard.TryGetValue(node, out List<(long TimeNs, int Message)>? beats))
                heard.Add(node, beats = []);
            beats.Add((message.TimeNs, row));
        }
        return heard;
    }

    /// <summary>What a node was set to.</summary>
    /// <param name="Node">Primary address.</param>
    /// <param name="PeriodSeconds">From one heartbeat to the next.</param>
    /// <param name="SinceNs">When it was heard to be set.</param>
    /// <param name="Message">Row of the message that tells it, or -1 for the description.</param>
    /// <param name="Endless">The number of heartbeats has no end.</param>
    /// <param name="Count">Their number, or null where it has no end or is not known.</param>
    private readonly record struct Expected(MeshAddress Node, double PeriodSeconds, long SinceNs, int Message, bool Endless, long? Count);
}
