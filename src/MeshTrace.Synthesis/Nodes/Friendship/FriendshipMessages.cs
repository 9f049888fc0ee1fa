using System.Buffers.Binary;
using MeshTrace.Protocol.LowerTransport;

namespace MeshTrace.Synthesis.Nodes.Friendship;

/// <summary>Octets and names of the friendship messages (Mesh Protocol 1.1 §3.6.5.1 to §3.6.5.9); big-endian.</summary>
internal static class FriendshipMessages
{
    private const int LongestUnsegmented = 12;

    internal static string NameOf(FriendshipContent content) => content switch
    {
        FriendPollContent => "Friend Poll",
        FriendUpdateContent => "Friend Update",
        FriendRequestContent => "Friend Request",
        FriendOfferContent => "Friend Offer",
        FriendClearContent => "Friend Clear",
        FriendClearConfirmContent => "Friend Clear Confirm",
        SubscriptionListContent { Adds: true } => "Friend Subscription List Add",
        SubscriptionListContent => "Friend Subscription List Remove",
        _ => "Friend Subscription List Confirm",
    };

    /// <summary>The lower transport PDU: an unsegmented control message.</summary>
    internal static byte[] Write(FriendshipContent content, int rssiDbm)
    {
        var (opcode, parameters) = content switch
        {
            FriendPollContent poll => (0x01, new[] { (byte)poll.Fsn }),
            FriendUpdateContent update => (0x02, [Flags(update), .. Big32(update.IvIndex), (byte)(update.MoreData ? 1 : 0)]),
            FriendRequestContent request => (0x03, Request(request)),
            FriendOfferContent { Bond: var bond } => (0x04, [(byte)bond.ReceiveWindowMs, (byte)bond.QueueSize,
                (byte)bond.Friend.Plan.FriendSubscriptionListSize, unchecked((byte)(sbyte)rssiDbm), .. Big16(bond.FriendCounter)]),
            FriendClearContent clear => (0x05, [.. Big16(clear.Lpn.Value), .. Big16(clear.LpnCounter)]),
            FriendClearConfirmContent confirm => (0x06, [.. Big16(confirm.Lpn.Value), .. Big16(confirm.LpnCounter)]),
            SubscriptionListContent list => (list.Adds ? 0x07 : 0x08,
                [list.TransactionNumber, .. list.Addresses.SelectMany(address => Big16(address.Value))]),
            SubscriptionListConfirmContent confirm => (0x09, new[] { confirm.TransactionNumber }),
            _ => throw new ArgumentException("not a message of friendship", nameof(content)),
        };
        byte[] transport = new byte[LongestUnsegmented];
        return transport[..UnsegmentedControl.Write(transport, (byte)opcode, parameters)];
    }

    /// <summary>Bit 0 key refresh, bit 1 IV update.</summary>
    private static byte Flags(FriendUpdateContent update) => (byte)((update.KeyRefresh ? 1 : 0) | (update.IvUpdate ? 2 : 0));

    /// <summary>Criteria: 1 bit RFU, RSSIFactor 2, ReceiveWindowFactor 2, MinQueueSizeLog 3; PollTimeout in steps of 100 ms.</summary>
    private static byte[] Request(FriendRequestContent request)
    {
        var terms = request.Terms;
        uint pollTimeout = (uint)(terms.PollTimeoutUs / 100_000);
        return
        [
            (byte)((terms.RssiFactor << 5) | (terms.ReceiveWindowFactor << 3) | terms.MinQueueSizeLog), (byte)terms.ReceiveDelayMs,
            (byte)(pollTimeout >> 16 & 0xFF), (byte)(pollTimeout >> 8 & 0xFF), (byte)(pollTimeout & 0xFF), .. Big16(request.Previous.Value),
            (byte)request.Lpn.Plan.Elements.Count, .. Big16(request.LpnCounter),
        ];
    }

    private static byte[] Big16(ushort value)
    {
        byte[] octets = new byte[2];
        BinaryPrimitives.WriteUInt16BigEndian(octets, value);
        return octets;
    }

    private static byte[] Big32(uint value)
    {
        byte[] octets = new byte[4];
        BinaryPrimitives.WriteUInt32BigEndian(octets, value);
        return octets;
    }
}
