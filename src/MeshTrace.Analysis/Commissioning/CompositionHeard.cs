using MeshTrace.Protocol.Access;

namespace MeshTrace.Analysis.Commissioning;

/// <summary>Reads how many elements a node has from Composition Data Page 0 (Mesh Protocol 1.1 §4.2.2.1) heard on the air.</summary>
internal static class CompositionHeard
{
    private const uint CompositionDataStatus = 0x02;

    /// <summary>Opcode, page, then CID, PID, VID, CRPL and features of 2 octets each.</summary>
    private const int FirstElementAt = 1 + 1 + 10;

    public static bool TryCountElements(Opcode opcode, ReadOnlySpan<byte> payload, out int elements)
    {
        elements = 0;
        if (opcode.Value != CompositionDataStatus || payload.Length < FirstElementAt || payload[1] != 0)
            return false;
        for (int at = FirstElementAt; at < payload.Length; elements++)
        {
            if (at + 4 > payload.Length)
                return false;
            at += 4 + (2 * payload[at + 2]) + (4 * payload[at + 3]);    // location, NumS, NumV, then the model identifiers
            if (at > payload.Length)
                return false;
        }
        return elements > 0;
    }
}
