using MeshTrace.Protocol.Access;

namespace MeshTrace.Reports.Records;

/// <summary>
/// Which messages carry keys in clear once they are opened: Config AppKey Add and Update, Config NetKey Add and Update (Mesh Protocol 1.1 §4.3.2), alone
/// or within an Opcodes Aggregator Sequence (§4.3.9). No record holds a key unless keys are to be revealed.
/// </summary>
internal static class KeyMaterial
{
    private const uint ConfigAppKeyAdd = 0x00, ConfigAppKeyUpdate = 0x01, ConfigNetKeyAdd = 0x8040, ConfigNetKeyUpdate = 0x8045, OpcodesAggregatorSequence = 0x8072;

    /// <summary>
    /// True if the octets of the message may hold a key. An aggregate is taken to hold one unless it was read whole and has none: what could not be
    /// read of it is not shown either.
    /// </summary>
    public static bool IsIn(DecodedMessage message) => message.Opcode.Value switch
    {
        ConfigAppKeyAdd or ConfigAppKeyUpdate or ConfigNetKeyAdd or ConfigNetKeyUpdate => true,
        OpcodesAggregatorSequence => message.Problem.IsProblem || AnyKey(message.Fields),
        _ => false,
    };

    private static bool AnyKey(IReadOnlyList<DecodedField> fields)
    {
        foreach (DecodedField field in fields)
        {
            if (field is { Kind: FieldKind.Octets, Name: "AppKey" or "NetKey" } || AnyKey(field.Children))
                return true;
        }
        return false;
    }
}
