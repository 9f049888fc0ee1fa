using System.Runtime.InteropServices;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Presses;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Repeats;

/// <summary>Finds messages that were sent again with a new SEQ: by Publish Retransmit, or by the application as the same transaction.</summary>
internal sealed class MessageRepeatDetector(CaptureHistory history, RadioSettings settings)
{
    /// <summary>Same SRC, DST and TID within 6 s are one transaction (Mesh Model 1.1 §3.3).</summary>
    private const double TransactionMs = 6_000;

    /// <summary>Longest interval of Publish Retransmit, and two of them where one message between was missed (Mesh Protocol 1.1 §4.2.3).</summary>
    private const double LongestPublishGapMs = 2 * 1_650;

    /// <summary>Publish intervals are multiples of this; what the queue of the sender and a missed first copy add or take.</summary>
    private const double StepMs = 50, SlackMs = 15;

    /// <summary>The messages of late with each payload between two addresses.</summary>
    private readonly Dictionary<Key, Group> _open = [];

    /// <summary>Messages sent more than once, each with its repetitions.</summary>
    private readonly List<List<int>> _repeated = [];

    public List<RepeatedMessage> Run()
    {
        for (int row = 0; row < history.Messages.Count; row++)
        {
            ref MessageRow message = ref history.Messages[row];
            if (!message.IsControl && message.Decrypted && message.Key == MessageKey.Application && message.TimeNs != CapturedFrame.NoTime)
                Take(row, in message);
        }
        _repeated.Sort((one, other) => one[0].CompareTo(other[0]));
        return _repeated.ConvertAll(ToRepeat);
    }

    private void Take(int row, in MessageRow message)
    {
        ReadOnlySpan<byte> payload = history.PayloadOf(row);
        ref Group group = ref CollectionsMarshal.GetValueRefOrAddDefault(_open, new Key(message.Src, message.Dst, HashOf(payload)), out bool known);
        if (known && history.PayloadOf(group.First).SequenceEqual(payload))
        {
            double gap = (message.TimeNs - history.Messages[group.Last].TimeNs) / 1e6, whole = (message.TimeNs - history.Messages[group.First].TimeNs) / 1e6;
            if (HasTid(in message, payload) ? whole is >= 0 and <= TransactionMs : gap is >= 0 and <= LongestPublishGapMs)
            {
                if (group.Messages is null)
                    _repeated.Add(group.Messages = [group.First]);
                group.Messages.Add(row);
                group.Last = row;
                return;
            }
        }
        group = new Group { First = row, Last = row };
    }

    private RepeatedMessage ToRepeat(List<int> group)
    {
        List<double> gaps = [];
        for (int at = 1; at < group.Count; at++)
            gaps.Add((history.Messages[group[at]].TimeNs - history.Messages[group[at - 1]].TimeNs) / 1e6);
        ref MessageRow first = ref history.Messages[group[0]];
        return new RepeatedMessage(Judge(in first, history.PayloadOf(group[0]), gaps), group, gaps);
    }

    private RepeatKind Judge(in MessageRow message, ReadOnlySpan<byte> payload, List<double> gaps)
    {
        IReadOnlyList<PublishRepeat> set = settings.PublishRepeatsOf(message.Src, message.Dst);
        foreach (PublishRepeat publish in set)
            if (publish.Transmissions > 1 && gaps.Count < publish.Transmissions && gaps.TrueForAll(gap => IsMultiple(gap, publish.IntervalMs, publish.Transmissions)))
                return RepeatKind.Publication;
        if (HasTid(in message, payload))
            return RequestKind.Find(message.Opcode)!.Acknowledged || gaps.Exists(gap => gap > LongestPublishGapMs / 2) || (set.Count > 0 && set.All(publish => publish.Transmissions == 1))
                ? RepeatKind.Transaction : RepeatKind.Unclear;
        bool even = gaps.Count > 1 && gaps.TrueForAll(gap => IsMultiple(gap, Math.Max(1, Math.Round(gaps.Min() / StepMs)) * StepMs, 2));
        return even && !(set.Count > 0 && set.All(publish => publish.Transmissions == 1)) ? RepeatKind.Publication : RepeatKind.Unclear;
    }

    private static bool IsMultiple(double gapMs, double intervalMs, int most)
    {
        double times = Math.Round(gapMs / intervalMs);
        return times >= 1 && times < most + 1 && Math.Abs(gapMs - (times * intervalMs)) <= SlackMs * times;
    }

    private static bool HasTid(in MessageRow message, ReadOnlySpan<byte> payload) => RequestKind.Find(message.Opcode)?.TryRead(payload, out _, out _) == true;

    private static ulong HashOf(ReadOnlySpan<byte> payload)
    {
        ulong hash = 14695981039346656037;      // FNV-1a, 64 bits: payloads are short, and equality is checked
        foreach (byte octet in payload)
            hash = unchecked((hash ^ octet) * 1099511628211);
        return hash;
    }

    private readonly record struct Key(MeshAddress Src, MeshAddress Dst, ulong Payload)
    {
        /// <summary>The hash of the payload is good already.</summary>
        public override int GetHashCode() => unchecked((int)((uint)(Payload >> 32) ^ (Src.Value * 0x9E3779B1) ^ ((uint)Dst.Value << 15)));
    }

    /// <summary>Messages with the same payload, close enough to each other.</summary>
    private struct Group
    {
        public int First, Last;

        /// <summary>All of them in order, once there are two: nearly every message is sent once.</summary>
        public List<int>? Messages;
    }
}
