namespace MeshTrace.Protocol.Access.Layouts;

/// <summary>The fields of one group read or written so far, and the groups around it: where rules and meanings look up other fields.</summary>
internal sealed class Scope(Scope? outer)
{
    public List<DecodedField> Fields { get; } = [];

    /// <summary>Looks in this group first, last field first, then in the groups around it.</summary>
    public DecodedField? Find(string name)
    {
        for (Scope? scope = this; scope is not null; scope = scope.Outer)
        {
            if (scope.FindHere(name) is { } field)
                return field;
        }
        return null;
    }

    public DecodedField? FindHere(string name)
    {
        for (int i = Fields.Count - 1; i >= 0; i--)
        {
            if (Fields[i].Name == name)
                return Fields[i];
        }
        return null;
    }

    private Scope? Outer { get; } = outer;
}
