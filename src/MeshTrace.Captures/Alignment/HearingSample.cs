using System.Buffers.Binary;
using System.Numerics;
using MeshTrace.Protocol.Link;

namespace MeshTrace.Captures.Alignment;

/// <summary>
/// What receivers heard, to compare their clocks by: a sample that stays small however long the captures are. It is taken by the octets, so that all receivers
/// keep the same transmissions; what repeats without change tells nothing and is dropped.
/// </summary>
internal sealed class HearingSample
{
    /// <summary>Hearings kept over all receivers: 24 octets each.</summary>
    private const int Most = 1 << 18;

    /// <summary>A PDU is transmitted 8 times at most, on three channels; octets heard more often by one receiver are a device that says the same all the time.</summary>
    public const int MostAlike = 24;

    /// <summary>Later receivers of a file that claims more are left unaligned.</summary>
    public const int MostReceivers = 64;

    private List<Hearing> _hearings = [];
    private ulong _mask;

    /// <summary>Takes the advertising PDUs of a frame.</summary>
    public void Take(in CapturedFrame frame, int receiver)
    {
        if (receiver >= MostReceivers || frame.IsCut || frame.MarkedCrcBad || frame.TimeNs is < CapturedFrame.EarliestNs or > CapturedFrame.LatestNs)
            return;
        int position = 0;
        while (LinkReader.TryReadNext(in frame, ref position, out Advertisement advertisement))
        {
            if (advertisement.Problem != LinkProblem.None || advertisement.Crc == CrcCheck.Bad || advertisement.IsConnection || !advertisement.HasAdvertiser)
                continue;
            ulong key = KeyOf(in advertisement);
            if ((key & _mask) != 0)
                continue;
            _hearings.Add(new Hearing(key, frame.TimeNs, (ushort)receiver, (byte)(advertisement.Channel ?? Hearing.NoChannel)));
            if (_hearings.Count >= Most)
                Thin();
        }
    }

    /// <summary>The hearings of each receiver, ordered by octets and time.</summary>
    public List<Hearing>[] ByReceiver(int receivers)
    {
        DropRepeated();
        var lists = new List<Hearing>[receivers];
        for (int at = 0; at < receivers; at++)
            lists[at] = [];
        foreach (Hearing hearing in _hearings)
            lists[hearing.Receiver].Add(hearing);
        foreach (List<Hearing> list in lists)
            list.Sort();
        return lists;
    }

    private void Thin()
    {
        DropRepeated();
        while (_hearings.Count > Most / 2)
        {
            _mask = (_mask << 1) | 1;
            _hearings.RemoveAll(hearing => (hearing.Key & _mask) != 0);
        }
    }

    private void DropRepeated()
    {
        _hearings.Sort((one, other) => one.Key != other.Key ? one.Key.CompareTo(other.Key) : one.Receiver.CompareTo(other.Receiver));
        var kept = new List<Hearing>(_hearings.Count);
        for (int from = 0, to; from < _hearings.Count; from = to)
        {
            for (to = from + 1; to < _hearings.Count && _hearings[to].Key == _hearings[from].Key && _hearings[to].Receiver == _hearings[from].Receiver;)
                to++;
            if (to - from <= MostAlike)
                kept.AddRange(_hearings[from..to]);
        }
        _hearings = kept;
    }

    /// <summary>Over type, advertiser and data. No protection against someone who makes octets collide: that would only spoil a pair.</summary>
    private static ulong KeyOf(in Advertisement advertisement)
    {
        ulong hash = Mixed(0x9E37_79B9_7F4A_7C15, advertisement.Advertiser | ((ulong)((byte?)advertisement.PduType ?? 0xFF) << 48) | (advertisement.AdvertiserIsRandom ? 1ul << 56 : 0));
        ReadOnlySpan<byte> data = advertisement.AdvData;
        hash = Mixed(hash, (ulong)data.Length);
        for (; data.Length >= 8; data = data[8..])
            hash = Mixed(hash, BinaryPrimitives.ReadUInt64LittleEndian(data));
        foreach (byte octet in data)
            hash = Mixed(hash, octet);
        return hash ^ (hash >> 29);
    }

    private static ulong Mixed(ulong hash, ulong word)
    {
        unchecked
        {
            hash = (hash ^ word) * 0xBF58_476D_1CE4_E5B9;
            return BitOperations.RotateLeft(hash ^ (hash >> 31), 27) * 0x94D0_49BB_1331_11EB;
        }
    }
}
