using MeshTrace.Analysis.History;
using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Network;
using MeshTrace.Protocol.Proxy;

namespace MeshTrace.Analysis.Connections;

/// <summary>
/// Opens proxy configuration messages and follows the filters of the connections (Mesh Protocol 1.1 §6.4, §6.6). Runs in the order of the frames, and
/// again when a NetKey was learnt.
/// </summary>
internal sealed class ProxyFilterStage(CaptureHistory history, KeyRing keys)
{
    /// <summary>A connection without an IV index told may use the next one already, or still the one before.</summary>
    private const int IndexesTried = 3;

    public void Clear()
    {
        foreach (ConnectionRecord record in history.ConnectionList)
            record.ClearDerived();
    }

    /// <summary>Takes a proxy configuration message.</summary>
    public void TakeConfiguration(ReadOnlySpan<byte> pdu, int frame)
    {
        if (RecordOf(frame) is not { } record)
            return;
        Span<byte> clear = stackalloc byte[NetworkSecurity.LongestPdu];
        if (!TryOpen(keys, pdu, clear, out int length, out _, out _) || !ClearNetworkPdu.TryRead(clear[..length], out ClearNetworkPdu opened, out _)
            || !ProxyConfigurationMessage.TryRead(opened.TransportPdu, out ProxyConfigurationMessage message, out _))
        {
            record.Counts.ConfigurationMessagesUnopened++;
            return;
        }
        long timeNs = history.Frames[frame].TimeNs;
        switch (message.Opcode)
        {
            case ProxyConfigurationOpcode.SetFilterType:
                record.ClientAddress = opened.Src;
                record.Add(new ProxyFilterChange(timeNs, frame, ProxyFilterChangeKind.TypeSet, message.FilterType, [], null));
                break;
            case ProxyConfigurationOpcode.AddAddressesToFilter or ProxyConfigurationOpcode.RemoveAddressesFromFilter:
                record.ClientAddress = opened.Src;
                var addresses = new MeshAddress[message.AddressCount];
                for (int i = 0; i < addresses.Length; i++)
                    addresses[i] = message.AddressAt(i);
                record.Add(new ProxyFilterChange(timeNs, frame,
                    message.Opcode == ProxyConfigurationOpcode.AddAddressesToFilter ? ProxyFilterChangeKind.Added : ProxyFilterChangeKind.Removed, null, addresses, null));
                break;
            case ProxyConfigurationOpcode.FilterStatus:
                record.ServerAddress = opened.Src;
                record.Add(new ProxyFilterChange(timeNs, frame, ProxyFilterChangeKind.Told, message.FilterType, [], message.ListSize));
                break;
        }
    }

    /// <summary>Takes a Network PDU that the client wrote.</summary>
    public void TakeClientPdu(int flood, int frame)
    {
        if (RecordOf(frame) is not { } record)
            return;
        MeshAddress src = history.Floods[flood].Src;
        record.ClientAddress ??= src;
        long timeNs = history.Frames[frame].TimeNs;
        // Known already: the list would not change, and a phone writes thousands of PDUs.
        if (record.LastSource == src)
            return;
        record.LastSource = src;
        record.Add(new ProxyFilterChange(timeNs, frame, ProxyFilterChangeKind.ClientSource, null, [src], null));
    }

    private ConnectionRecord? RecordOf(int frame) => history.Frames[frame].Connection is { } row ? history.ConnectionList[row] : null;

    /// <summary>Opens a proxy configuration message.</summary>
    /// <param name="keys">What may open it.</param>
    /// <param name="pdu">As sent.</param>
    /// <param name="clear">Room for the clear PDU.</param>
    /// <param name="length">Its octets.</param>
    /// <param name="candidate">The credentials that opened it.</param>
    /// <param name="ivIndex">The IV index that it was made with.</param>
    internal static bool TryOpen(KeyRing keys, ReadOnlySpan<byte> pdu, Span<byte> clear, out int length, out NetworkCandidate candidate, out uint ivIndex)
    {
        (length, candidate, ivIndex) = (0, default, 0);
        foreach (NetworkCandidate one in keys.CandidatesFor(pdu[0]))
        {
            candidate = one;
            if (keys.Subnets[candidate.Subnet].IvIndex is not { } current)
                continue;
            uint first = (current & 1) == (uint)(pdu[0] >> 7) ? current : current == 0 ? 1 : current - 1;
            ivIndex = first;
            for (int tries = 0; tries < IndexesTried; ivIndex += 2, tries++)
                if (NetworkSecurity.TryDecryptProxyConfiguration(pdu, candidate.Credentials, ivIndex, clear, out length))
                    return true;
        }
        return false;
    }
}
