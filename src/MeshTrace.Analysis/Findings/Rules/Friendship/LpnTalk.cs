using System.Buffers.Binary;
using MeshTrace.Analysis.Floods;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Findings.Rules.Friendship;

/// <summary>What a Low Power node says to find and keep a Friend, and what it is offered (Mesh Protocol 1.1 §3.6.5).</summary>
internal enum LpnWord : byte
{
    Request = 0x03,
    Offer = 0x04,
    Poll = 0x01,
    SubscriptionListAdd = 0x07,
}

/// <summary>One of these messages.</summary>
/// <param name="Word">Which.</param>
/// <param name="Message">Row of the message.</param>
/// <param name="TimeNs">When it was heard first.</param>
/// <param name="Seq">Its sequence number.</param>
/// <param name="Friend">The Friend it went to or came from; for a request the one before (PreviousAddress), unassigned where there was none.</param>
/// <param name="Value">FSN of a poll; queue size of an offer; LPNCounter of a request: the number of requests that the node has made; else 0.</param>
internal readonly record struct LpnSaid(LpnWord Word, int Message, long TimeNs, uint Seq, MeshAddress Friend, ushort Value);

/// <summary>The talk of one Low Power node, in the order heard.</summary>
internal sealed class LpnTalk
{
    private readonly List<uint> _numbers = [];

    private LpnTalk(MeshAddress lpn) => Lpn = lpn;

    public MeshAddress Lpn { get; }
    public List<LpnSaid> Said { get; } = [];

    /// <summary>All Low Power nodes that asked for a Friend or polled one; without any, the floods are not looked at.</summary>
    public static IReadOnlyCollection<LpnTalk> Of(CaptureHistory history)
    {
        var talks = new SortedDictionary<ushort, LpnTalk>();
        for (int row = 0; row < history.Messages.Count; row++)
        {
            ref MessageRow message = ref history.Messages[row];
            if (!message.IsControl || message.TimeNs == CapturedFrame.NoTime)
                continue;
            ReadOnlySpan<byte> parameters = history.PayloadOf(row);
            switch ((LpnWord)message.Opcode.Value)
            {
                case LpnWord.Request when parameters.Length == 10:
                    Take(message.Src, new LpnSaid(LpnWord.Request, row, message.TimeNs, message.Seq,
                        new MeshAddress(BinaryPrimitives.ReadUInt16BigEndian(parameters[5..])), BinaryPrimitives.ReadUInt16BigEndian(parameters[8..])));
                    break;
                case LpnWord.Offer when parameters.Length == 6:
                    Take(message.Dst, new LpnSaid(LpnWord.Offer, row, message.TimeNs, message.Seq, message.Src, parameters[1]));
                    break;
                case LpnWord.Poll when parameters.Length == 1:
                    Take(message.Src, new LpnSaid(LpnWord.Poll, row, message.TimeNs, message.Seq, message.Dst, (ushort)(parameters[0] & 1)));
                    break;
                case LpnWord.SubscriptionListAdd when parameters.Length >= 3:
                    Take(message.Src, new LpnSaid(LpnWord.SubscriptionListAdd, row, message.TimeNs, message.Seq, message.Dst, 0));
                    break;
            }
        }
        if (talks.Count > 0)
            CollectNumbers(history, talks);
        return talks.Values;

        void Take(MeshAddress lpn, LpnSaid said)
        {
            if (!talks.TryGetValue(lpn.Value, out LpnTalk? talk))
                talks.Add(lpn.Value, talk = new LpnTalk(lpn));
            talk.Said.Add(said);
        }
    }

    /// <summary>Groups that the node was heard to have its Friend store for.</summary>
    public HashSet<MeshAddress> GroupsTold(CaptureHistory history)
    {
        var groups = new HashSet<MeshAddress>();
        foreach (LpnSaid said in Said)
        {
            if (said.Word != LpnWord.SubscriptionListAdd)
                continue;
            ReadOnlySpan<byte> list = history.PayloadOf(said.Message)[1..];
            for (; list.Length >= 2; list = list[2..])
                groups.Add(new MeshAddress(BinaryPrimitives.ReadUInt16BigEndian(list)));
        }
        return groups;
    }

    /// <summary>Sequence numbers that the node used between two messages and that nobody heard: what it said there is not known.</summary>
    public int UnheardBetween(uint before, uint after)
    {
        if (after <= before)
            return int.MaxValue;
        int from = LowerBound(before + 1), to = LowerBound(after);
        return (int)Math.Min(int.MaxValue, after - before - 1 - (uint)(to - from));
    }

    /// <summary>
    /// Requests that the node made after one and up to another, by LPNCounter (Mesh Protocol 1.1 §3.6.5.3), and numbers between them that nobody heard and
    /// that these requests do not account for; null where the counter does not go with the numbers.
    /// </summary>
    public (int Requests, int OtherUnheard)? BetweenRequests(LpnSaid before, LpnSaid after)
    {
        int requests = unchecked((ushort)(after.Value - before.Value)), unheard = UnheardBetween(before.Seq, after.Seq);
        int heard = Said.Count(said => said.Word == LpnWord.Request && said.Seq > before.Seq && said.Seq < after.Seq);
        return requests < 1 + heard || requests - 1 - heard > unheard ? null : (requests, unheard - (requests - 1 - heard));
    }

    private int LowerBound(uint seq) => _numbers.BinarySearch(seq) is var at && at < 0 ? ~at : at;

    private static void CollectNumbers(CaptureHistory history, SortedDictionary<ushort, LpnTalk> talks)
    {
        for (int row = 0; row < history.Floods.Count; row++)
        {
            ref FloodRow flood = ref history.Floods[row];
            if (talks.TryGetValue(flood.Src.Value, out LpnTalk? talk))
                talk._numbers.Add(flood.Seq);
        }
        foreach (LpnTalk talk in talks.Values)
        {
            uint[] distinct = [.. talk._numbers.Distinct().Order()];
            talk._numbers.Clear();
            talk._numbers.AddRange(distinct);
        }
    }
}
