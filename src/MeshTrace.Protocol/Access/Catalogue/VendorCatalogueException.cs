namespace MeshTrace.Protocol.Access.Catalogue;

/// <summary>A table of vendor messages (docs/vendor-messages.md) cannot be read: file, line, and what was expected there.</summary>
public sealed class VendorCatalogueException : Exception
{
    public VendorCatalogueException(string file, int line, string says)
        : base($"{file}, line {line}: {says}")
    {
        File = file;
        Line = line;
        Says = says;
    }

    public string File { get; }

    /// <summary>Counted from 1.</summary>
    public int Line { get; }

    public string Says { get; }
}
