using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol.Network;

namespace MeshTrace.Analysis.Contents;

/// <summary>
/// Finds the IV index of a subnet of which no beacon was heard: what the user gave first, then upward from 0 until a NetMIC is right.
/// A 32-bit NetMIC fits by chance once in 4 thousand million tries, so a second PDU has to agree where there is one.
/// </summary>
internal sealed class IvIndexSearch(KeyRing keys, ContentTable contents, IReadOnlyList<uint> hints)
{
    /// <summary>Highest IV index tried: at the fastest pace the standard allows (one update in 192 h) a network gets there after 1,400 years.</summary>
    public const uint HighestTried = 65_535;

    /// <summary>PDUs with a fitting NID that are tried before a key is taken for wrong: one in 128 foreign PDUs has the NID by chance.</summary>
    private const int MostPdus = 16;

    /// <summary>Tries over all subnets together, about a second of work: a database of a thousand networks must not turn foreign traffic into minutes.</summary>
    private const int MostTries = 20_000_000;

    private readonly Dictionary<int, int> _triedUpTo = [];
    private int _tries;

    /// <summary>Looks through the contents for subnets whose IV index is not known yet.</summary>
    /// <returns>True if one was found.</returns>
    public bool Run()
    {
        bool found = false;
        for (int row = 0; row < keys.Subnets.Count; row++)
            if (keys.Subnets[row].IvIndex is null)
                found |= SearchFor(row);
        return found;
    }

    private bool SearchFor(int subnetRow)
    {
        Subnet subnet = keys.Subnets[subnetRow];
        int tried = 0;
        for (int at = _triedUpTo.GetValueOrDefault(subnetRow); at < contents.Count && tried < MostPdus; at++)
        {
            _triedUpTo[subnetRow] = at + 1;
            ref ContentRow content = ref contents[at];
            if (!content.Kind.IsNetworkPdu() || !NetworkPdu.TryRead(content.Octets, out NetworkPdu pdu, out _) || pdu.Nid != subnet.Nid)
                continue;
            tried++;
            foreach (uint given in hints)
            {
                if (!OpensNear(content.Octets, pdu.Ivi, subnet, given))
                    continue;
                Set(subnet, given, IvIndexOrigin.Given);
                return true;
            }
            if (Search(content.Octets, pdu.Ivi, subnet, at) is { } searched)
            {
                Set(subnet, searched, IvIndexOrigin.Searched);
                return true;
            }
        }
        return false;
    }

    private static void Set(Subnet subnet, uint index, IvIndexOrigin origin)
    {
        subnet.IvIndex = index;
        subnet.IvIndexOrigin = origin;
    }

    /// <summary>With the index given, or the one before it: which of the two, the IVI bit says (Mesh Protocol 1.1 §3.11.5).</summary>
    private static bool OpensNear(ReadOnlySpan<byte> octets, bool ivi, Subnet subnet, uint given) =>
        (given & 1) == (ivi ? 1u : 0u) ? Opens(octets, subnet, given) : given > 0 && Opens(octets, subnet, given - 1);

    private uint? Search(ReadOnlySpan<byte> octets, bool ivi, Subnet subnet, int at)
    {
        for (uint index = ivi ? 1u : 0u; index <= HighestTried && _tries < MostTries; index += 2, _tries++)
            if (Opens(octets, subnet, index) && Agrees(subnet, at, index) is { } current)
                return current;
        return null;
    }

    /// <summary>Another PDU has to open with this index or a neighbour; the higher of the two is the current one. A lone PDU is believed.</summary>
    private uint? Agrees(Subnet subnet, int first, uint index)
    {
        int others = 0;
        for (int at = 0; at < contents.Count && others < MostPdus; at++)
        {
            ref ContentRow content = ref contents[at];
            if (at == first || !content.Kind.IsNetworkPdu() || !NetworkPdu.TryRead(content.Octets, out NetworkPdu pdu, out _) || pdu.Nid != subnet.Nid)
                continue;
            others++;
            bool sameParity = (index & 1) == (pdu.Ivi ? 1u : 0u);
            if (sameParity && Opens(content.Octets, subnet, index))
                return index;
            if (!sameParity && Opens(content.Octets, subnet, index + 1))
                return index + 1;
            if (!sameParity && index > 0 && Opens(content.Octets, subnet, index - 1))
                return index;
        }
        return others == 0 ? index : null;
    }

    private static bool Opens(ReadOnlySpan<byte> octets, Subnet subnet, uint index)
    {
        Span<byte> clear = stackalloc byte[NetworkSecurity.LongestPdu];
        return NetworkSecurity.TryDecrypt(octets, subnet.Material.Flooding, index, clear, out _);
    }
}
