using MeshTrace.Analysis.Keys;

namespace MeshTrace.Reports.Records;

/// <summary><c>key</c> records, written only where the user asked for keys in clear.</summary>
internal static class KeyRecords
{
    public static void Write(JsonLine line, RevealedKey key, int row)
    {
        line.Begin("key"u8, row);
        line.Word("kind"u8, key.Kind);
        line.Number("index"u8, key.Index);
        line.Address("of"u8, key.Of);
        line.Hex("octets"u8, key.Octets.Span);
        line.Word("from"u8, key.Origin switch
        {
            KeyOrigin.ConfigMessage => "config-message"u8,
            KeyOrigin.Provisioning => "provisioning"u8,
            _ => "given"u8,
        });
        line.End();
    }
}
