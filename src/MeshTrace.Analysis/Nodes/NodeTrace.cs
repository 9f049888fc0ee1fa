using System.Runtime.InteropServices;

namespace MeshTrace.Analysis.Nodes;

/// <summary>What the messages of one node show of it. It uses few keys, so that lists are searched faster than tables.</summary>
internal sealed class NodeTrace
{
    public static readonly NodeTrace None = new();

    private readonly List<int> _subnets = [], _appKeys = [];

    /// <summary>First and last flood of each run with one IV index.</summary>
    private readonly List<(long TimeNs, uint IvIndex, int Flood)> _ivIndexes = [];

    /// <inheritdoc cref="NodeTraces.UsesSubnet"/>
    public bool UsesSubnet(int subnet) => _subnets.Contains(subnet);

    /// <inheritdoc cref="NodeTraces.UsesAppKey"/>
    public bool UsesAppKey(int appKey) => _appKeys.Contains(appKey);

    /// <inheritdoc cref="NodeTraces.IvIndexAround"/>
    public ((uint IvIndex, int Flood)? Before, (uint IvIndex, int Flood)? After) IvIndexAround(long timeNs)
    {
        (uint, int)? before = null;
        foreach (ref readonly (long TimeNs, uint IvIndex, int Flood) seen in CollectionsMarshal.AsSpan(_ivIndexes))
        {
            if (seen.TimeNs >= timeNs)
                return (before, (seen.IvIndex, seen.Flood));
            before = (seen.IvIndex, seen.Flood);
        }
        return (before, null);
    }

    public void AddSubnet(int subnet)
    {
        if (!_subnets.Contains(subnet))
            _subnets.Add(subnet);
    }

    public void AddAppKey(int appKey)
    {
        if (!_appKeys.Contains(appKey))
            _appKeys.Add(appKey);
    }

    /// <param name="timeNs">First hearing of a flood, which comes after those added before.</param>
    /// <param name="ivIndex">Its IV index.</param>
    /// <param name="flood">Its row.</param>
    public void AddIvIndex(long timeNs, uint ivIndex, int flood)
    {
        if (_ivIndexes.Count < 2 || _ivIndexes[^1].IvIndex != ivIndex || _ivIndexes[^2].IvIndex != ivIndex)
            _ivIndexes.Add((timeNs, ivIndex, flood));
        else
            _ivIndexes[^1] = (timeNs, ivIndex, flood);
    }
}
