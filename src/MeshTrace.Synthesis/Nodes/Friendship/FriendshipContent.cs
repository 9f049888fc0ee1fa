using MeshTrace.Protocol;

namespace MeshTrace.Synthesis.Nodes.Friendship;

/// <summary>A control message of friendship (Mesh Protocol 1.1 §3.6.5.1 to §3.6.5.9), as the nodes hand it to each other.</summary>
internal abstract record FriendshipContent : LowerContent;

internal sealed record FriendPollContent(int Fsn) : FriendshipContent;

internal sealed record FriendUpdateContent(uint IvIndex, bool IvUpdate, bool KeyRefresh, bool MoreData) : FriendshipContent;

internal sealed record FriendRequestContent(MeshNode Lpn, LowPowerTerms Terms, MeshAddress Previous, ushort LpnCounter) : FriendshipContent;

internal sealed record FriendOfferContent(FriendshipBond Bond) : FriendshipContent;

internal sealed record FriendClearContent(MeshAddress Lpn, ushort LpnCounter) : FriendshipContent;

internal sealed record FriendClearConfirmContent(MeshAddress Lpn, ushort LpnCounter) : FriendshipContent;

internal sealed record SubscriptionListContent(bool Adds, byte TransactionNumber, IReadOnlyList<MeshAddress> Addresses) : FriendshipContent;

internal sealed record SubscriptionListConfirmContent(byte TransactionNumber) : FriendshipContent;
