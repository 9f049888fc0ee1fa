namespace MeshTrace.Reports.Records;

/// <summary>The kinds of record, in the order in which they are written (docs/records.md).</summary>
public enum RecordKind : byte
{
    Frame,
    Flood,
    Message,
    Transfer,
    Press,
    Beacon,
    Provisioning,
    Connection,
    Node,
    Event,
    Note,
    Finding,
    Key,
}

/// <summary>The names of the record kinds, as the records and the command line spell them.</summary>
public static class RecordKinds
{
    public static readonly IReadOnlyList<RecordKind> All = Enum.GetValues<RecordKind>();

    public static string NameOf(RecordKind kind) => kind switch
    {
        RecordKind.Frame => "frame",
        RecordKind.Flood => "flood",
        RecordKind.Message => "message",
        RecordKind.Transfer => "transfer",
        RecordKind.Press => "press",
        RecordKind.Beacon => "beacon",
        RecordKind.Provisioning => "provisioning",
        RecordKind.Connection => "connection",
        RecordKind.Node => "node",
        RecordKind.Event => "event",
        RecordKind.Note => "note",
        RecordKind.Finding => "finding",
        RecordKind.Key => "key",
        _ => throw new ArgumentOutOfRangeException(nameof(kind)),
    };

    /// <summary>Finds a kind by its name.</summary>
    public static bool TryParse(string name, out RecordKind kind)
    {
        foreach (RecordKind candidate in All)
        {
            if (name != NameOf(candidate))
                continue;
            kind = candidate;
            return true;
        }
        kind = default;
        return false;
    }
}
