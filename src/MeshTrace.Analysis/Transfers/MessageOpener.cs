using MeshTrace.Analysis.Keys;
using MeshTrace.Protocol;
using MeshTrace.Protocol.UpperTransport;

namespace MeshTrace.Analysis.Transfers;

/// <summary>Opens upper transport access PDUs: AppKeys by AID, device keys by address, label UUIDs by virtual address; only the TransMIC decides.</summary>
internal sealed class MessageOpener(KeyRing keys, Func<MeshAddress, MeshAddress> nodeOf)
{
    /// <summary>Opens the PDU and fills in whose key did it.</summary>
    /// <param name="upperPdu">Encrypted access payload and TransMIC.</param>
    /// <param name="aid">AID of the lower transport PDU.</param>
    /// <param name="message">Has the nonce's fields already; gets key, label and length.</param>
    /// <param name="payload">Room for the access payload.</param>
    public bool TryOpen(ReadOnlySpan<byte> upperPdu, byte aid, ref MessageRow message, Span<byte> payload)
    {
        if (message.Key == MessageKey.Device)
            return TryDevice(upperPdu, nodeOf(message.Dst), ref message, payload) || TryDevice(upperPdu, nodeOf(message.Src), ref message, payload);
        IReadOnlyList<int> candidates = keys.AppKeysFor(aid);
        for (int i = 0; i < candidates.Count; i++)
            if (message.Dst.IsVirtual ? TryLabels(upperPdu, candidates[i], ref message, payload) : Try(upperPdu, candidates[i], -1, ref message, payload))
                return true;
        return false;
    }

    private bool TryLabels(ReadOnlySpan<byte> upperPdu, int appKey, ref MessageRow message, Span<byte> payload)
    {
        IReadOnlyList<int> labels = keys.LabelsFor(message.Dst);
        for (int i = 0; i < labels.Count; i++)
            if (Try(upperPdu, appKey, labels[i], ref message, payload))
                return true;
        return false;
    }

    private bool Try(ReadOnlySpan<byte> upperPdu, int appKey, int label, ref MessageRow message, Span<byte> payload)
    {
        Span<byte> additional = stackalloc byte[16];
        if (label >= 0)
            keys.Labels[label].Uuid.TryWriteBytes(additional, bigEndian: true, out _);
        AppKey key = keys.AppKeys[appKey];
        if (!UpperTransport.TryDecrypt(upperPdu, key.Material.Key, false, message.TransMicBits == 64, message.Seq, message.Src, message.Dst, message.IvIndex,
            label >= 0 ? additional : [], payload, out int length))
            return false;
        key.MessagesOpened++;
        message.AppKey = appKey;
        message.Label = label;
        message.PayloadLength = length;
        message.Decrypted = true;
        return true;
    }

    private bool TryDevice(ReadOnlySpan<byte> upperPdu, MeshAddress node, ref MessageRow message, Span<byte> payload)
    {
        IReadOnlyList<int> rows = keys.DeviceKeysOf(node);
        for (int i = 0; i < rows.Count; i++)
        {
            DeviceKey key = keys.DeviceKeys[rows[i]];
            if (!UpperTransport.TryDecrypt(upperPdu, key.Material, true, message.TransMicBits == 64, message.Seq, message.Src, message.Dst, message.IvIndex, [], payload, out int length))
                continue;
            key.MessagesOpened++;
            message.DeviceKeyOf = node;
            message.PayloadLength = length;
            message.Decrypted = true;
            return true;
        }
        return false;
    }
}
