using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Reports.Words;

namespace MeshTrace.Reports.Page;

/// <summary>What the page is written with.</summary>
public sealed record PageSettings
{
    /// <summary>Version of the program, for the last line.</summary>
    public required string ProgramVersion { get; init; }

    /// <summary>Names of vendor messages, or null.</summary>
    public VendorCatalogue? Vendor { get; init; }

    /// <summary>Where all names and addresses come from; null: from the description and the capture, as they are.</summary>
    public INames? Names { get; init; }
}
