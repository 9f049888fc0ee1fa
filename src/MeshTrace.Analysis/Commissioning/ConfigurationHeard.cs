using MeshTrace.Analysis.Completeness;
using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Transfers;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Commissioning;

/// <summary>
/// Every change of configuration that Config messages on the air asked for, with what the node answered, in the order heard. A request counts from its
/// first hearing on, unless its Status refuses it: the Status may be the thing that was not heard.
/// </summary>
public sealed class ConfigurationHeard
{
    /// <summary>Timeout of an acknowledged message (Mesh Protocol 1.1 §3.7.4.2): a later Status answers something else.</summary>
    private const long LongestAnswerNs = 30_000_000_000;

    /// <summary>So many changes of one node are looked back at, at most: keeps the work linear where a capture has no times or is made up.</summary>
    private const int MostLookedBack = 256;

    private readonly List<ConfigChange> _changes = [];
    private readonly Dictionary<ushort, List<ConfigChange>> _byNode = [];

    /// <summary>In the order heard.</summary>
    public IReadOnlyList<ConfigChange> Changes => _changes;

    /// <summary>Nodes about which something was heard.</summary>
    public IEnumerable<MeshAddress> Nodes => _byNode.Keys.Order().Select(node => new MeshAddress(node));

    /// <summary>Messages under a node's device key that no key opened: what they changed is not known. By the node they went to.</summary>
    public IReadOnlyDictionary<MeshAddress, int> Unread => _unread;
    private readonly Dictionary<MeshAddress, int> _unread = [];

    /// <summary>Refusals of which the request was not heard, in the order heard.</summary>
    internal IReadOnlyList<ConfigChange> RefusedUnheard => _refusedUnheard;
    private readonly List<ConfigChange> _refusedUnheard = [];

    public IReadOnlyList<ConfigChange> OfNode(MeshAddress node) => _byNode.TryGetValue(node.Value, out List<ConfigChange>? changes) ? changes : [];

    internal static ConfigurationHeard Read(CaptureHistory history)
    {
        var heard = new ConfigurationHeard();
        for (int row = 0; row < history.Messages.Count; row++)
        {
            ref MessageRow message = ref history.Messages[row];
            if (message.IsControl || message.Key != MessageKey.Device)
                continue;
            MeshAddress src = history.Directory.NodeOf(message.Src), dst = history.Directory.NodeOf(message.Dst);
            if (!message.Decrypted)
            {
                heard._unread[dst] = heard._unread.GetValueOrDefault(dst) + 1;
                continue;
            }
            if (message.PayloadLength < message.Opcode.Octets || message.PayloadLength == 0)
                continue;
            if (message.DeviceKeyOf == dst && ConfigMessageReader.ReadRequest(dst, message.TimeNs, message.Opcode, history.PayloadOf(row)) is { } request)
                heard.TakeRequest(row, request);
            else if (message.DeviceKeyOf == src && ConfigMessageReader.ReadStatus(src, message.TimeNs, message.Opcode, history.PayloadOf(row)) is { } status)
                heard.TakeStatus(row, status);
        }
        return heard;
    }

    private void TakeRequest(int row, ConfigChange request)
    {
        List<ConfigChange> before = ChangesOf(request.Node);
        for (int i = before.Count - 1, least = before.Count - MostLookedBack; i >= 0 && i >= least && IsNear(before[i].TimeNs, request.TimeNs); i--)
        {
            if (before[i].Standing == ConfigStanding.Refused || !before[i].IsSameAs(request) || (before[i].Request < 0 && IsEarlyAnswer(before[i], request)))
                continue;
            before[i].Tries++;
            return;
        }
        request.Request = row;
        Add(request);
        int unheard = _refusedUnheard.Count;
        if (_refusedUnheard.FindLastIndex(unheard - 1, Math.Min(unheard, MostLookedBack), status => IsEarlyAnswer(status, request)) is var refusal and >= 0)
        {
            Settle(request, _refusedUnheard[refusal].Status, _refusedUnheard[refusal]);
            _refusedUnheard.RemoveAt(refusal);
        }
        else if (EarlyAnswerTo(request, before) is { } answer)
        {
            _changes.RemoveAt(_changes.LastIndexOf(answer));
            before.Remove(answer);
            Settle(request, answer.Status, answer);
        }
    }

    /// <summary>A Status that answers the request and was heard before its first copy, or null.</summary>
    private static ConfigChange? EarlyAnswerTo(ConfigChange request, List<ConfigChange> before)
    {
        for (int i = before.Count - 1, least = Math.Max(0, before.Count - MostLookedBack); i >= least; i--)
        {
            if (before[i] is { Request: < 0, Status: >= 0 } change && IsEarlyAnswer(change, request))
                return change;
        }
        return null;
    }

    private static bool IsEarlyAnswer(ConfigChange status, ConfigChange request) => status.Node == request.Node
        && status.StatusTimeNs is { } timeNs && timeNs != CapturedFrame.NoTime && request.TimeNs - timeNs <= FirstCopy.MostLateNs && Answers(status, request);

    private void TakeStatus(int row, ConfigChange status)
    {
        List<ConfigChange> before = ChangesOf(status.Node);
        for (int i = before.Count - 1, least = before.Count - MostLookedBack; i >= 0 && i >= least && IsNear(before[i].TimeNs, status.TimeNs); i--)
        {
            if (before[i].Standing != ConfigStanding.Asked || before[i].Status >= 0 || !Answers(status, before[i]))
                continue;
            Settle(before[i], row, status);
            return;
        }
        if (status.StatusCode is > 0)
        {
            // It refuses something that was not heard, or not yet, unless it answers a repetition.
            if (!before.TakeLast(MostLookedBack).Any(change => change.Standing == ConfigStanding.Refused && IsNear(change.TimeNs, status.TimeNs) && Answers(status, change)))
            {
                (status.Status, status.StatusTimeNs, status.Standing) = (row, status.TimeNs, ConfigStanding.Refused);
                _refusedUnheard.Add(status);
            }
            return;
        }
        bool tellsAll = status.Kind is not (ConfigKind.NetKeyAdded or ConfigKind.AppKeyAdded or ConfigKind.KeyBound or ConfigKind.SubscriptionAdded);
        if (before.TakeLast(MostLookedBack).Any(change => change.Status >= 0 && IsNear(change.TimeNs, status.TimeNs) && (tellsAll ? change.IsSameAs(status) : Answers(status, change))))
            return;     // the answer to a repetition
        status.Status = row;
        status.StatusTimeNs = status.TimeNs;
        status.Standing = tellsAll ? ConfigStanding.Confirmed : ConfigStanding.Asked;      // add or delete: the Status does not say which it answers
        Add(status);
    }

    /// <summary>A Status answers a request about the same thing; one that tells a state settles what that state was set to.</summary>
    private static bool Answers(ConfigChange status, ConfigChange request) => status.Kind switch
    {
        ConfigKind.NetKeyAdded => request.Kind is ConfigKind.NetKeyAdded or ConfigKind.NetKeyUpdated or ConfigKind.NetKeyDeleted && request.KeyIndex == status.KeyIndex,
        ConfigKind.AppKeyAdded => request.Kind is ConfigKind.AppKeyAdded or ConfigKind.AppKeyUpdated or ConfigKind.AppKeyDeleted && request.KeyIndex == status.KeyIndex,
        ConfigKind.KeyBound => request.Kind is ConfigKind.KeyBound or ConfigKind.KeyUnbound && request.Model == status.Model && request.KeyIndex == status.KeyIndex,
        ConfigKind.SubscriptionAdded => request.Model == status.Model && (request.Kind is ConfigKind.SubscriptionsCleared
            || (request.Kind is ConfigKind.SubscriptionAdded or ConfigKind.SubscriptionDeleted or ConfigKind.SubscriptionOverwritten && request.Address.Address == status.Address.Address)),
        ConfigKind.Publication => request.Kind == status.Kind && request.Model == status.Model,
        ConfigKind.KeyRefreshPhase => request.Kind == status.Kind && request.KeyIndex == status.KeyIndex,
        ConfigKind.Composition or ConfigKind.NetKeyList or ConfigKind.AppKeyList or ConfigKind.BindingList or ConfigKind.SubscriptionList => false,
        _ => request.Kind == status.Kind,
    };

    private void Settle(ConfigChange change, int row, ConfigChange status)
    {
        bool accepted = status.StatusCode is null or 0;
        // A state that the node tells otherwise than asked was not set (a feature it does not support, for example).
        bool otherwise = accepted && status.Kind is ConfigKind.DefaultTtl or ConfigKind.Beacon or ConfigKind.Relay or ConfigKind.Proxy or ConfigKind.Friend or ConfigKind.NetworkTransmit
            && (status.Value != change.Value || (status.Kind == ConfigKind.NetworkTransmit && status.Transmit != change.Transmit));
        change.Standing = accepted && !otherwise ? ConfigStanding.Confirmed : ConfigStanding.Refused;
        change.Status = row;
        change.StatusTimeNs = status.TimeNs;
        change.StatusCode = status.StatusCode;
        if (!otherwise)
            return;
        status.Status = row;
        status.StatusTimeNs = status.TimeNs;
        status.Standing = ConfigStanding.Confirmed;
        Add(status);
    }

    private void Add(ConfigChange change)
    {
        _changes.Add(change);
        ChangesOf(change.Node).Add(change);
    }

    private List<ConfigChange> ChangesOf(MeshAddress node)
    {
        if (!_byNode.TryGetValue(node.Value, out List<ConfigChange>? changes))
            _byNode.Add(node.Value, changes = []);
        return changes;
    }

    private static bool IsNear(long before, long after) =>
        before == CapturedFrame.NoTime || after == CapturedFrame.NoTime || after - before <= LongestAnswerNs;
}
