using System.Runtime.InteropServices;
using MeshTrace.Analysis.Connections;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings.Rules.Transaction;

/// <summary>A server answers a client and publishes the same state to an address that the client receives too.</summary>
internal sealed class DoubledStatus : IFindingRule
{
    /// <summary>Both come within this time (ours).</summary>
    private const double SoonSeconds = 1;

    /// <summary>Once may be chance (ours).</summary>
    private const int EnoughTimes = 2;

    public string Id => "doubled-status";

    public void Examine(CaptureHistory history, FindingSink findings)
    {
        if (history.NodeModels is not { } models)
            return;
        HashSet<int> retried = [.. history.Presses.Where(press => press.Messages.Count > 1).SelectMany(press => press.Answers).Select(answer => answer.Message)];
        var latest = new Dictionary<(ushort Src, uint Opcode), int>();
        var doubled = new Dictionary<(MeshAddress Server, MeshAddress Client), List<(int Answer, int Publication)>>();
        for (int row = 0; row < history.Messages.Count; row++)
        {
            ref MessageRow message = ref history.Messages[row];
            if (message.IsControl || !message.Decrypted || message.Key != MessageKey.Application || !RequestKind.StatusOpcodes.Contains(message.Opcode.Value) || message.TimeNs == CapturedFrame.NoTime)
                continue;
            ref int before = ref CollectionsMarshal.GetValueRefOrAddDefault(latest, (message.Src.Value, message.Opcode.Value), out bool any);
            if (any && before >= 0 && Wording.Seconds(history.Messages[before].TimeNs, message.TimeNs) is >= 0 and < SoonSeconds && !retried.Contains(row) && !retried.Contains(before)
                && history.PayloadOf(row).SequenceEqual(history.PayloadOf(before)) && Pair(history, models, before, row) is { } pair)
            {
                MeshAddress client = history.Messages[pair.Answer].Dst;
                if (!doubled.TryGetValue((message.Src, client), out List<(int Answer, int Publication)>? pairs))
                    doubled.Add((message.Src, client), pairs = []);
                pairs.Add(pair);
                before = -1;
                continue;
            }
            before = row;
        }
        foreach (((MeshAddress server, MeshAddress client), List<(int Answer, int Publication)> pairs) in doubled)
            if (pairs.Count >= EnoughTimes)
                Tell(history, findings, server, client, pairs);
    }

    /// <summary>Which of the two is the answer, and which the publication that the client receives as well; null where they are no such pair.</summary>
    private static (int Answer, int Publication)? Pair(CaptureHistory history, NodeModels models, int before, int after)
    {
        MeshAddress one = history.Messages[before].Dst, other = history.Messages[after].Dst;
        if (one == other)
            return one.IsUnicast && PublishesTo(history, models, after, other) ? (before, after) : null;
        if (one.IsUnicast && !other.IsUnicast)
            return Receives(history, models, one, other, history.Messages[after].TimeNs) && CameThrough(history, after, one) ? (before, after) : null;
        return other.IsUnicast && !one.IsUnicast && Receives(history, models, other, one, history.Messages[after].TimeNs) && CameThrough(history, before, other) ? (after, before) : null;
    }

    private static bool PublishesTo(CaptureHistory history, NodeModels models, int message, MeshAddress client)
    {
        MeshAddress src = history.Messages[message].Src;
        foreach ((ModelInstance model, Known<PublicationState> publication) in models.Of(src).At(history.Messages[message].TimeNs).Publications)
            if (model.Element == src && publication.Value!.Address.Address == client)
                return true;
        return false;
    }

    /// <summary>What a proxy's filter keeps from a phone did not come twice: within its connection the phone receives what the proxy sends it.</summary>
    private static bool CameThrough(CaptureHistory history, int publication, MeshAddress client)
    {
        long timeNs = history.Messages[publication].TimeNs;
        if (!history.Connections.Any(connection => connection.ClientAddress == client && connection.FirstTimeNs <= timeNs && connection.LastTimeNs >= timeNs))
            return true;
        foreach (int flood in history.FloodsOf(publication))
            if ((history.Floods[flood].HeardBy & Bearers.GattFromServer) != 0)
                return true;
        return false;
    }

    private static bool Receives(CaptureHistory history, NodeModels models, MeshAddress client, MeshAddress group, long timeNs)
    {
        if (group == MeshAddress.AllNodes)
            return true;
        NodeState state = models.Of(history.Directory.NodeOf(client)).At(timeNs);
        foreach (ModelInstance model in state.ModelsOn(client))
            if (state.SubscriptionsOf(model)[group] is { IsKnown: true, Holds: true })
                return true;
        return false;
    }

    private void Tell(CaptureHistory history, FindingSink findings, MeshAddress server, MeshAddress client, List<(int Answer, int Publication)> pairs)
    {
        MeshAddress to = history.Messages[pairs[0].Publication].Dst;
        string how = to == client ? "publishes the same to it" : $"publishes the same to {history.Called(to)}, which {history.Called(client)} receives as well";
        findings.Add(Id, Confidence.Likely, history.Messages[pairs[0].Answer].TimeNs, history.Directory.NodeOf(server), null,
            $"{history.Called(server)} tells {history.Called(client)} each state twice ({Wording.Times(pairs.Count)} here): it answers, and {how}.",
            [.. pairs.SelectMany(pair => new[] { pair.Answer, pair.Publication }).Select(row => new Evidence("message", row))]);
    }
}
