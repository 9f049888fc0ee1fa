using MeshTrace.Analysis.History;
using MeshTrace.Protocol.Access.Catalogue;

namespace MeshTrace.Reports.Words;

/// <summary>What every section of the account needs.</summary>
/// <param name="History">What the capture told.</param>
/// <param name="Names">What to call addresses.</param>
/// <param name="Vendor">Names of vendor messages, or null.</param>
internal sealed record Account(CaptureHistory History, NameBook Names, VendorCatalogue? Vendor);
