namespace MeshTrace.Analysis.History;

/// <summary>
/// What the frame of a copy tells beside the copy itself, 24 octets: kept flood by flood while the senders of copies are found, so that nobody has to go
/// through the frames for it again and again.
/// </summary>
internal readonly struct HeardCopy
{
    private readonly ulong _packed;

    public HeardCopy(in FrameRow frame) =>
        (TimeNs, _packed, Receiver, Rssi) = (frame.TimeNsField, frame.Packed, frame.ReceiverField, frame.RssiField);

    /// <summary>As <see cref="FrameRow.TimeNs"/>.</summary>
    public long TimeNs { get; }
    public ushort Receiver { get; }

    /// <summary>dBm, or <see cref="FrameRow.NoRssi"/>.</summary>
    public sbyte Rssi { get; }

    /// <summary>Channel index 0-39, or <see cref="FrameRow.NoChannel"/>.</summary>
    public int Channel => (int)((_packed >> 56) & 63);
    public bool HasAdvertiser => (_packed & FrameRow.AdvertiserMark) != 0;

    /// <summary>Advertiser address; without meaning where there is none.</summary>
    public ulong Advertiser => _packed & FrameRow.AddressMask;
}
