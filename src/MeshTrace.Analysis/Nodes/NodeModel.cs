using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Description;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Analysis.Nodes;

/// <summary>
/// A node's configuration over time: what the description says, changed by what Config messages were heard to do. The description may have been
/// exported after what was heard; so what it says of a thing is doubted for the time before somebody was heard to make it so.
/// </summary>
public sealed class NodeModel
{
    private readonly DescribedNode? _described;
    private readonly long? _describedAtNs;
    private readonly (long TimeNs, int NetKeyIndex)? _provisioned;
    private NodeState? _latest;
    private long[] _latestUntil = [];       // latest time of the changes up to each, so that it rises
    private (int Applied, bool Provisioned) _latestKey;

    internal NodeModel(MeshAddress unicast, DescribedNode? described, long? describedAtNs, IReadOnlyList<ConfigChange> changes, (long TimeNs, int NetKeyIndex)? provisioned)
    {
        Unicast = unicast;
        _described = described;
        _describedAtNs = describedAtNs;
        Changes = changes;
        _provisioned = provisioned;
    }

    /// <summary>Primary address.</summary>
    public MeshAddress Unicast { get; }

    /// <summary>What Config messages were heard to change, in the order heard.</summary>
    public IReadOnlyList<ConfigChange> Changes { get; }

    /// <summary>True if the description names it.</summary>
    public bool IsDescribed => _described is not null;

    /// <summary>When it was heard to be provisioned, or null.</summary>
    public long? ProvisionedAtNs => _provisioned?.TimeNs;

    /// <summary>Its configuration at a time; at <see cref="long.MaxValue"/> the last one known.</summary>
    public NodeState At(long timeNs)
    {
        int applied = Changes.Count == 0 ? 0 : FirstAfter(timeNs);
        bool provisioned = _provisioned is not { } link || link.TimeNs <= timeNs;
        if (_latest is null || _latestKey != (applied, provisioned))
            (_latest, _latestKey) = (Build(applied, provisioned), (applied, provisioned));
        return _latest;
    }

    /// <summary>True if something of a kind was heard to change between two times.</summary>
    public bool ChangedBetween(long fromNs, long toNs)
    {
        foreach (ConfigChange change in Changes)
            if (change.TimeNs > Math.Min(fromNs, toNs) && change.TimeNs <= Math.Max(fromNs, toNs) && change.Standing != ConfigStanding.Refused && change.Request >= 0)
                return true;
        return false;
    }

    /// <summary>Changes up to the first one that has a later time.</summary>
    private int FirstAfter(long timeNs)
    {
        if (_latestUntil.Length == 0)
        {
            _latestUntil = new long[Changes.Count];
            long latest = long.MinValue;
            for (int i = 0; i < Changes.Count; i++)
                _latestUntil[i] = latest = Changes[i].TimeNs == CapturedFrame.NoTime ? latest : Math.Max(latest, Changes[i].TimeNs);
        }
        int low = 0, high = Changes.Count;
        while (low < high)
        {
            int middle = (low + high) / 2;
            if (_latestUntil[middle] <= timeNs)
                low = middle + 1;
            else
                high = middle;
        }
        return low;
    }

    private NodeState Build(int applied, bool provisioned)
    {
        var state = new NodeState(Unicast);
        if (_described is not null)
            NodeStateBuilder.Describe(state, _described);
        if (!provisioned)
        {
            state.OutOfNetwork = new Claim(true, KnownFrom.Confirmed);
            return state;
        }
        if (_provisioned is { } link && _described is null)
            state.Begin(link.NetKeyIndex);
        for (int i = 0; i < applied; i++)
        {
            ConfigChange change = Changes[i];
            if (change.Standing == ConfigStanding.Refused && !(_describedAtNs > change.TimeNs))
                NodeStateBuilder.Refuse(state, change);
            else if (change.Standing != ConfigStanding.Refused && !(_provisioned is { } begun && _described is null && change.TimeNs < begun.TimeNs))
                NodeStateBuilder.Apply(state, change);
        }
        for (int i = applied; i < Changes.Count; i++)
            if (Changes[i].Standing != ConfigStanding.Refused && !(_describedAtNs < Changes[i].TimeNs))
                NodeStateBuilder.Doubt(state, Changes[i]);
        return state;
    }
}
