using System.Buffers.Binary;
using System.Diagnostics.CodeAnalysis;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol.Access;

namespace MeshTrace.Analysis.Commissioning;

/// <summary>Composition Data Page 0 (Mesh Protocol 1.1 §4.2.2.1) as a node told it: what it is, its features, elements and models.</summary>
public sealed class CompositionPage0
{
    private const uint CompositionDataStatus = 0x02;

    /// <summary>Opcode, page, then CID, PID, VID, CRPL and features of 2 octets each.</summary>
    private const int FirstElementAt = 1 + 1 + 10;

    public required ushort Cid { get; init; }
    public required ushort Pid { get; init; }
    public required ushort Vid { get; init; }

    /// <summary>Least number of replay protection list entries.</summary>
    public required ushort Crpl { get; init; }

    /// <summary>Bit 0 relay, 1 proxy, 2 friend, 3 low power: whether the node has the feature at all, not whether it is on.</summary>
    public required ushort Features { get; init; }

    /// <summary>Models of each element, from the primary element on.</summary>
    public required IReadOnlyList<IReadOnlyList<ModelNumber>> Elements { get; init; }

    /// <summary>Reads a Config Composition Data Status that carries page 0.</summary>
    internal static bool TryRead(Opcode opcode, ReadOnlySpan<byte> payload, [NotNullWhen(true)] out CompositionPage0? page)
    {
        page = null;
        if (opcode.Value != CompositionDataStatus || payload.Length < FirstElementAt || payload[1] != 0)
            return false;
        var elements = new List<IReadOnlyList<ModelNumber>>();
        for (int at = FirstElementAt; at < payload.Length;)
        {
            if (at + 4 > payload.Length)
                return false;
            int sig = payload[at + 2], vendor = payload[at + 3];
            at += 4;        // location, NumS, NumV, then the model identifiers
            if (at + (2 * sig) + (4 * vendor) > payload.Length)
                return false;
            var models = new List<ModelNumber>(sig + vendor);
            for (int i = 0; i < sig; i++, at += 2)
                models.Add(new ModelNumber(BinaryPrimitives.ReadUInt16LittleEndian(payload[at..])));
            for (int i = 0; i < vendor; i++, at += 4)
                models.Add(new ModelNumber(BinaryPrimitives.ReadUInt16LittleEndian(payload[(at + 2)..]), BinaryPrimitives.ReadUInt16LittleEndian(payload[at..])));
            elements.Add(models);
        }
        if (elements.Count is 0 or > byte.MaxValue)
            return false;
        page = new CompositionPage0
        {
            Cid = Word(payload, 0), Pid = Word(payload, 1), Vid = Word(payload, 2), Crpl = Word(payload, 3), Features = Word(payload, 4), Elements = elements,
        };
        return true;
    }

    private static ushort Word(ReadOnlySpan<byte> payload, int index) => BinaryPrimitives.ReadUInt16LittleEndian(payload[(2 + (2 * index))..]);
}
