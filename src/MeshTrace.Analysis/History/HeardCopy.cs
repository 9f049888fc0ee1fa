namespace MeshTrace.Analysis.History;

/// <summary>
/// What the frame of a copy tells beside the copy itself, 24 octets: kept flood by flood while the senders of copies are found, so that nobody has to go
/// through the frames for it again and again.
/// </summary>
internal struct HeardCopy
{
    private readonly ulong _packed;

    public HeardCopy(in FrameRow frame) =>
        (TimeNs, _packed, Receiver, Rssi) = (frame.TimeNsField, frame.Packed, frame.ReceiverField, frame.RssiField);

    /// <summary>As <see cref="FrameRow.TimeNs"/>.</summary>
    public readonly long TimeNs { get; }
    public readonly ushort Receiver { get; }

    /// <summary>dBm, or <see cref="FrameRow.NoRssi"/>.</summary>
    public readonly sbyte Rssi { get; }

    /// <summary>Number of the advertiser address in <see cref="Floods.SenderEvidence.Advertisers"/>, once it is known there; -1 where the frame has no address.</summary>
    public int AdvertiserRow { get; set; }

    /// <summary>Channel index 0-39, or <see cref="FrameRow.NoChannel"/>.</summary>
    public readonly int Channel => (int)((_packed >> 56) & 63);
    public readonly bool HasAdvertiser => (_packed & FrameRow.AdvertiserMark) != 0;

    /// <summary>Advertiser address; without meaning where there is none.</summary>
    public readonly ulong Advertiser => _packed & FrameRow.AddressMask;
}
