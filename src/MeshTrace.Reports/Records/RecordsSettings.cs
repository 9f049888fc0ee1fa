using MeshTrace.Protocol.Access.Catalogue;

namespace MeshTrace.Reports.Records;

/// <summary>What to write of a capture's records.</summary>
public sealed class RecordsSettings
{
    /// <summary>The kinds to write; all when empty.</summary>
    public IReadOnlyCollection<RecordKind> Only { get; init; } = [];

    /// <summary>Also write <c>key</c> records, which hold key octets.</summary>
    public bool RevealKeys { get; init; }

    /// <summary>Version of the program, told in the first line.</summary>
    public string ProgramVersion { get; init; } = "";

    /// <summary>Names and fields of vendor messages, or null.</summary>
    public VendorCatalogue? Vendor { get; init; }

    internal bool Wants(RecordKind kind) => (kind != RecordKind.Key || RevealKeys) && (Only.Count == 0 || Only.Contains(kind));
}
