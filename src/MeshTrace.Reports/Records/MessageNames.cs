using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Access.Catalogue;
using MeshTrace.Protocol.UpperTransport.Control;

namespace MeshTrace.Reports.Records;

/// <summary>The standard's name of a message.</summary>
internal static class MessageNames
{
    /// <summary>Null where neither the standard nor the user's table defines the opcode.</summary>
    public static string? Find(bool isControl, Opcode opcode, VendorCatalogue? vendor = null) =>
        isControl ? ControlCatalogue.Find((byte)opcode.Value)?.Name : (AccessCatalogue.Find(opcode) ?? vendor?.Find(opcode))?.Name;
}
