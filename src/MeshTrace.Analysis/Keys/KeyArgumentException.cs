namespace MeshTrace.Analysis.Keys;

/// <summary>A key, label or IV index given by hand that cannot be read. Neither message nor members repeat it.</summary>
public sealed class KeyArgumentException(string place, string says) : Exception($"{place}: {says}")
{
    /// <summary>Where it was given, for example <c>--net-key</c>, <c>--net-key, line 3 of site.keys</c> or <c>MESHTRACE_NET_KEY, value 2</c>.</summary>
    public string Place { get; } = place;

    /// <summary>What is wrong, without the place.</summary>
    public string Says { get; } = says;
}
