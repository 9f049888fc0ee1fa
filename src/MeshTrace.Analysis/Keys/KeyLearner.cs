using System.Buffers.Binary;
using MeshTrace.Analysis.Transfers;

namespace MeshTrace.Analysis.Keys;

/// <summary>Takes keys, label UUIDs and friendships from messages that were opened.</summary>
internal sealed class KeyLearner(KeyRing keys)
{
    private const int KeyOctets = 16;

    /// <summary>LPNCounter of the latest Friend Request of each node (Mesh Protocol 1.1 §3.6.5.3).</summary>
    private readonly Dictionary<(int Subnet, ushort Lpn), ushort> _requests = [];

    public void Take(in MessageRow message, ReadOnlySpan<byte> payload)
    {
        if (message.IsControl)
            TakeControl(in message, payload);
        else if (message.Key == MessageKey.Device)
            TakeConfig(message.Opcode.Value, payload);
    }

    public void Clear() => _requests.Clear();

    /// <summary>Config messages that carry keys and labels: only under a device key are they what they seem (§4.3.1).</summary>
    private void TakeConfig(uint opcode, ReadOnlySpan<byte> payload)
    {
        switch (opcode)
        {
            case 0x00 or 0x01 when payload.Length == 1 + 3 + KeyOctets:     // Config AppKey Add, Update: two 12-bit indexes in 3 octets (§4.3.1.1)
                int both = payload[1] | (payload[2] << 8) | (payload[3] << 16);
                keys.AddAppKey(payload[4..], both >> 12, both & 0xFFF, KeyOrigin.ConfigMessage);
                break;
            case 0x8040 or 0x8045 when payload.Length == 2 + 2 + KeyOctets: // Config NetKey Add, Update
                keys.AddNetKey(payload[4..], BinaryPrimitives.ReadUInt16LittleEndian(payload[2..]) & 0xFFF, KeyOrigin.ConfigMessage);
                break;
            case 0x8020 or 0x8021 or 0x8022 or 0x801A when payload.Length >= 2 + 2 + KeyOctets:  // label UUID behind the element address
                keys.AddLabel(new Guid(payload.Slice(4, 16), bigEndian: true));
                break;
        }
    }

    /// <summary>A Friend Request and its Offer give the security material of the friendship (§3.6.6.3.1, §3.9.6.3.1).</summary>
    private void TakeControl(in MessageRow message, ReadOnlySpan<byte> parameters)
    {
        const uint friendRequest = 0x03, friendOffer = 0x04;
        if (message.Opcode.Value == friendRequest && parameters.Length == 10)
            _requests[(message.Subnet, message.Src.Value)] = BinaryPrimitives.ReadUInt16BigEndian(parameters[8..]);
        else if (message.Opcode.Value == friendOffer && parameters.Length == 6 && _requests.TryGetValue((message.Subnet, message.Dst.Value), out ushort lpnCounter))
            keys.AddFriendship(message.Subnet, lpn: message.Dst, friend: message.Src, lpnCounter, BinaryPrimitives.ReadUInt16BigEndian(parameters[4..]));
    }
}
