using System.Runtime.InteropServices;
using MeshTrace.Analysis.Beacons;
using MeshTrace.Analysis.Description;
using MeshTrace.Analysis.Findings;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.ReceiversEye;

/// <summary>The steps of the network and lower transport layers.</summary>
internal sealed partial class ReceiveProcedure
{
    /// <summary>So many floods must show a distance before it can accuse a TTL (ours).</summary>
    private const int FewFloods = 3, ManyFloods = 10;

    /// <summary>So many presses must have stayed without an answer (ours).</summary>
    private const int ManySilences = 3;

    /// <summary>Answers to at most so many of the requests come by lucky ways, which appear now and then and are no way to rely on (ours).</summary>
    private const double Seldom = 0.2;

    private readonly Dictionary<(int Subnet, uint IvIndex), bool> _updatesSeen = [];

    private StepView NetworkKey(in Scene scene, ref EyeGlance view, bool acts)
    {
        view.OutOfNetwork = scene.State.OutOfNetwork is { IsKnown: true, Holds: true };
        if (scene.State.OutOfNetwork is { IsKnown: true, Holds: true } gone)
            return Rejected(ReceiveStep.NetworkKey, gone, scene.Node);
        if (acts || scene.Listener.Trace.UsesSubnet(scene.Subnet))
            return Passed(ReceiveStep.NetworkKey, KnownFrom.Observed);
        Keys.Subnet subnet = _history.Keys.Subnets[scene.Subnet];
        if (subnet.NetKeyIndex is not { } index)
            return Unknown(ReceiveStep.NetworkKey);
        Claim has = scene.State.NetKeys[index];
        if (!has.IsKnown || !has.Holds)
            return ByClaim(ReceiveStep.NetworkKey, has, scene.Node);
        // In a key refresh the index alone does not tell which of the two keys the node has.
        for (int row = 0; row < _history.Keys.Subnets.Count; row++)
            if (row != scene.Subnet && _history.Keys.Subnets[row].NetKeyIndex == index)
                return Unknown(ReceiveStep.NetworkKey);
        return Passed(ReceiveStep.NetworkKey, has.From);
    }

    /// <summary>A node at IV index c takes c and c - 1; it sends with c, or with c - 1 while an update is in progress (§3.11.5).</summary>
    private StepView IvIndex(in Scene scene)
    {
        ((uint IvIndex, int Flood)? before, (uint IvIndex, int Flood)? after) = scene.Listener.Trace.IvIndexAround(scene.Press.TimeNs);
        if (before is null && after is null)
            return Unknown(ReceiveStep.IvIndex);
        long message = scene.IvIndex;
        if (before is { } earlier && message < (long)earlier.IvIndex - 1)
            return Rejects(earlier.Flood, Confidence.Likely);      // its own index never goes down
        if (after is { } later && message > later.IvIndex)
        {
            // At the message's time its index was at most one above what it sends with afterwards.
            if (message > (long)later.IvIndex + 1)
                return Rejects(later.Flood, Confidence.Likely);
            return UpdateSeen(scene.Subnet, scene.IvIndex) ? Unknown(ReceiveStep.IvIndex) : Rejects(later.Flood, Confidence.Likely);
        }
        if (after is null && before is { } last && message > last.IvIndex)
            return message > (long)last.IvIndex + 1 && !UpdateSeen(scene.Subnet, scene.IvIndex) ? Rejects(last.Flood, Confidence.Possible) : Unknown(ReceiveStep.IvIndex);
        return Passed(ReceiveStep.IvIndex, KnownFrom.Observed);

        static StepView Rejects(int flood, Confidence confidence) =>
            new(ReceiveStep.IvIndex, StepOutcome.Rejects, KnownFrom.Observed, confidence, new Evidence("flood", flood));
    }

    /// <summary>True if an authenticated beacon tells of an IV update to or from this index: then nodes differ by one for a time, and rightly so.</summary>
    private bool UpdateSeen(int subnet, uint ivIndex)
    {
        if (!_updatesSeen.TryGetValue((subnet, ivIndex), out bool seen))
            _updatesSeen.Add((subnet, ivIndex), seen = FindUpdate(subnet, ivIndex));
        return seen;
    }

    private bool FindUpdate(int subnet, uint ivIndex)
    {
        foreach (BeaconRecord beacon in _history.Beacons)
            if (beacon is { Authenticated: true, IvUpdate: true } && beacon.Subnet == subnet && beacon.IvIndex is { } told && Math.Abs((long)told - ivIndex) <= 1)
                return true;
        return false;
    }

    private StepView Reach(in Scene scene, ref EyeGlance view)
    {
        if (scene.Shared.FloodSentBy(scene.Node) is { } own)
            return Passed(ReceiveStep.Reach, KnownFrom.Observed, new Evidence("flood", own));     // it relayed it, or sent it
        if (scene.State.LowPower is { IsKnown: true, Value: FeatureState.Enabled } || scene.Node == scene.SrcNode || scene.TtlSent is not { } sent)
            return Unknown(ReceiveStep.Reach);

        ReceptionProof? least = scene.Way.LeastTtl;
        HopDistance? seen = scene.Way.Seen, estimate = scene.Way.Estimate;
        view.TtlNeeded = estimate?.Hops is { } hops && least?.Ttl is { } proven ? Math.Min(hops, proven) : estimate?.Hops ?? least?.Ttl;
        (_, int silent, int answered, int inVain) = scene.Way.Tallies?.AtMost(sent) ?? default;
        bool seldom = sent > 0 && scene.Press.LastTtl <= 1 && silent >= ManySilences && answered <= Seldom * (inVain + answered) && SilenceTells(in scene, silent);
        if (least is { } enough && enough.Ttl <= sent && !(seldom && answered > 0))
            return Passed(ReceiveStep.Reach, KnownFrom.Observed, enough.Answer >= 0 ? new Evidence("message", enough.Answer) : null);
        if (estimate is { } way && way.Hops <= Math.Max(sent, 1) && !seldom)
            return Passed(ReceiveStep.Reach, KnownFrom.Observed, new Evidence("flood", way.Flood));

        // The TTL must have run out on the air, and as good as never have sufficed while the element was alive.
        if (seldom)
            view.TtlNeeded = estimate?.Hops > sent ? estimate.Value.Hops : null;
        if (sent > 0 && scene.Press.LastTtl > 1)
            return Unknown(ReceiveStep.Reach);
        if (seen is { Floods: >= FewFloods } relay && relay.Hops > sent)
            return Short(relay.Floods >= ManyFloods ? Confidence.Likely : Confidence.Possible, new Evidence("flood", relay.Flood));
        if (silent == 0)
            return Unknown(ReceiveStep.Reach);
        if (least is { } higher && higher.Ttl > sent)
            return Short(silent > 1 ? Confidence.Likely : Confidence.Possible, higher.Answer >= 0 ? new Evidence("message", higher.Answer) : null);
        if (sent > 1 && estimate is { Floods: >= FewFloods } guess && guess.Hops > sent)
        {
            // The way is an upper limit; that the element answers others tells that nothing else is wrong with it.
            bool sure = silent >= ManySilences && guess.Floods >= ManyFloods && _proofs.SourcesBefore(scene.Node, long.MaxValue) > 0;
            return Short(sure ? Confidence.Likely : Confidence.Possible, new Evidence("flood", guess.Flood));
        }
        // Others reach it with more TTL, or relays carry its own messages farther; how far it is from this one, nobody showed.
        view.OthersReach = _proofs.ReachedWithMore(scene.Node, sent);
        if (seldom && (view.OthersReach || _distances.Carried(scene.Node, sent) >= FewFloods))
            return Short(Confidence.Possible, null);
        return Unknown(ReceiveStep.Reach);

        static StepView Short(Confidence confidence, Evidence? evidence) => new(ReceiveStep.Reach, StepOutcome.Rejects, KnownFrom.Observed, confidence, evidence);
    }

    /// <summary>So many answers would not all have been missed.</summary>
    private bool SilenceTells(in Scene scene, int silent) => scene.Press.TimeNs != CapturedFrame.NoTime
        && _history.HeardShares?.ChanceAllMissed(scene.Node, silent, scene.Press.TimeNs, scene.Press.TimeNs) < MostMissChance;

    /// <summary>Another PDU with the same (IV index, SRC, SEQ) shortly before is still in the cache, which drops the later one.</summary>
    private StepView MessageCache(PressScene scene)
    {
        int earlier = -1;
        foreach (int row in CollectionsMarshal.AsSpan(scene.Floods))
        {
            earlier = _acts.EarlierWithSameSeq(_history, row);
            if (earlier < 0)
                return Passed(ReceiveStep.MessageCache, KnownFrom.Observed);
        }
        return earlier < 0 ? Unknown(ReceiveStep.MessageCache)
            : new StepView(ReceiveStep.MessageCache, StepOutcome.Rejects, KnownFrom.Observed, Confidence.Possible, new Evidence("flood", earlier));
    }

    private StepView Segments(in Scene scene)
    {
        bool anyUnknown = false, anyRefused = false;
        int refusedBy = -1;
        foreach (int message in CollectionsMarshal.AsSpan(scene.Press.Messages))
        {
            if (_history.Messages[message].Transfer is not (>= 0 and var row))
                return Passed(ReceiveStep.Segments, KnownFrom.Observed);
            Transfer transfer = _history.Transfers[row];
            uint got = 0;
            bool acked = false;
            foreach (BlockAcknowledgment ack in transfer.Acks)
            {
                if (ack.From != scene.Element)
                    continue;
                got |= ack.Block;
                acked = true;
            }
            if ((got & transfer.AllSegments) == transfer.AllSegments)
                return Passed(ReceiveStep.Segments, KnownFrom.Observed, new Evidence("transfer", row));
            (anyRefused, refusedBy) = acked ? (true, row) : (anyRefused, refusedBy);
            anyUnknown |= !acked;
        }
        return anyRefused && !anyUnknown
            ? new StepView(ReceiveStep.Segments, StepOutcome.Rejects, KnownFrom.Observed, Confidence.Likely, new Evidence("transfer", refusedBy))
            : Unknown(ReceiveStep.Segments);
    }

    private StepView Replay(in Scene scene, ref EyeGlance view)
    {
        if (scene.Way.Proofs is not { } proofs || proofs.LastBefore(scene.Press.TimeNs, ref scene.Way.NearProof) is not { Reception: var highest })
            return Unknown(ReceiveStep.ReplayProtection);
        (uint IvIndex, uint Seq) before = proofs.NumberOf(in highest);
        view.SeqReceivedBefore = before.Seq;
        if ((scene.IvIndex, scene.Seq).CompareTo(before) > 0)
            return Passed(ReceiveStep.ReplayProtection, KnownFrom.Observed);
        Evidence evidence = highest.Transfer is not { } row ? new Evidence("message", highest.Request)
            : _history.Transfers[row].Message is >= 0 and var message ? new Evidence("message", message) : new Evidence("transfer", row);
        return new StepView(ReceiveStep.ReplayProtection, StepOutcome.Rejects, KnownFrom.Observed, Confidence.Likely, evidence);
    }

    /// <summary>A full list takes no further source (§3.8.8). Only sources that the node is known to have received count, so this is never more than possible.</summary>
    private StepView ReplaySpace(in Scene scene)
    {
        if (scene.State.ReplayListSize is not { IsKnown: true, Value: > 0 } size)
            return Unknown(ReceiveStep.ReplayListSpace);
        if (scene.Way.Proofs is not null)
            return Passed(ReceiveStep.ReplayListSpace, KnownFrom.Observed);
        return _proofs.SourcesBefore(scene.Node, scene.Press.TimeNs) >= size.Value
            ? new StepView(ReceiveStep.ReplayListSpace, StepOutcome.Rejects, size.From, Confidence.Possible, size.Message >= 0 ? new Evidence("message", size.Message) : null)
            : Unknown(ReceiveStep.ReplayListSpace);
    }
}
