namespace MeshTrace.Analysis.Nodes;

/// <summary>Where a statement about a node comes from, weakest first.</summary>
public enum KnownFrom : byte
{
    /// <summary>Nobody said.</summary>
    Nothing,

    /// <summary>The node was seen being provisioned and nothing was heard since that would have changed it.</summary>
    FreshFromProvisioning,

    /// <summary>The description: what the provisioning program believes.</summary>
    Description,

    /// <summary>A Config message asked for it; no Status heard.</summary>
    Asked,

    /// <summary>The node's Status.</summary>
    Confirmed,

    /// <summary>What the node did on the air shows it.</summary>
    Observed,
}

/// <summary>A statement about a node and where it comes from.</summary>
/// <param name="Holds">What is stated; without meaning where <paramref name="From"/> is <see cref="KnownFrom.Nothing"/>.</param>
/// <param name="From">Who says so.</param>
/// <param name="Message">Row of the message that says so, or -1.</param>
public readonly record struct Claim(bool Holds, KnownFrom From, int Message = -1)
{
    public static readonly Claim Unknown = new(false, KnownFrom.Nothing);
    public bool IsKnown => From != KnownFrom.Nothing;
}

/// <summary>A value of a node's configuration and where it comes from.</summary>
/// <param name="Value">The value; null where nobody said.</param>
/// <param name="From">Who says so.</param>
/// <param name="Message">Row of the message that says so, or -1.</param>
public readonly record struct Known<T>(T? Value, KnownFrom From, int Message = -1)
{
    public bool IsKnown => From != KnownFrom.Nothing;
}

/// <summary>Statements about the members of a set: those named, and one about all others.</summary>
public sealed class ClaimSet<T> where T : notnull
{
    private readonly Dictionary<T, Claim> _named = [];

    /// <summary>What is stated about every member that is not named.</summary>
    public Claim Others { get; private set; } = Claim.Unknown;

    public Claim this[T member] => _named.TryGetValue(member, out Claim claim) ? claim : Others;

    /// <summary>Members of which it is stated that they belong to the set, whoever says so.</summary>
    public IEnumerable<T> Members => _named.Where(pair => pair.Value is { Holds: true, IsKnown: true }).Select(pair => pair.Key);

    internal void Set(T member, Claim claim) => _named[member] = claim;

    /// <summary>The whole set is stated.</summary>
    internal void SetAll(IEnumerable<T> members, KnownFrom from, int message)
    {
        _named.Clear();
        foreach (T member in members)
            _named[member] = new Claim(true, from, message);
        Others = new Claim(false, from, message);
    }

    /// <summary>A member stated by the description alone is not known for the time before somebody was heard to put it there.</summary>
    internal void Doubt(T member, bool holds)
    {
        if (this[member] is { From: KnownFrom.Description } claim && claim.Holds == holds)
            _named[member] = Claim.Unknown;
    }
}
