using MeshTrace.Captures.Files;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Link;
using MeshTrace.Protocol.Provisioning;

namespace MeshTrace.Benchmarks.Accuracy;

/// <summary>One PB-ADV PDU in a capture.</summary>
/// <param name="TimeNs">Of its frame.</param>
/// <param name="Number">Transaction number; from 0x80 on the device's.</param>
/// <param name="Format">Kind of generic provisioning PDU.</param>
/// <param name="Segment">0 for a Transaction Start.</param>
/// <param name="Told">Type of the provisioning PDU in a Transaction Start; reason of a Link Close; else -1.</param>
internal readonly record struct BearerPdu(long TimeNs, byte Number, GenericProvisioningFormat Format, int Segment, int Told)
{
    public bool FromDevice => Number >= PbAdvPdu.FirstTransactionNumberOfDevice;
}

/// <summary>
/// The provisioning bearer in a capture, read frame by frame without the analysis: the truth of a composed capture does not list these packets. There is one
/// link in a drawn network.
/// </summary>
internal sealed class BearerHeard
{
    /// <summary>The same segment so much later was sent again, not repeated by the advertiser.</summary>
    private const long SendingNs = 300_000_000;

    /// <summary>Up to the confirmations each end has sent 5 or 6 segments and 4 or 3 acknowledgments; the rest has 9 more of both, and three Link Closes.</summary>
    private const int SentTillConfirmation = 9, ProvisionerToCome = 8, DeviceToCome = 4;

    private readonly List<BearerPdu> _pdus = [];

    public static BearerHeard Nothing { get; } = new();

    public bool LinkOpen { get; private set; }

    public static BearerHeard Of(byte[] capture)
    {
        var heard = new BearerHeard();
        using IFrameSource source = CaptureFile.Open(new MemoryStream(capture), "drawn");
        while (source.TryReadNext(out CapturedFrame frame))
        {
            int position = 0;
            while (LinkReader.TryReadNext(in frame, ref position, out Advertisement advertisement))
            {
                var structures = new AdStructureReader(advertisement.Crc == CrcCheck.Bad ? [] : advertisement.AdvData);
                while (structures.MoveNext())
                    if (structures.Type == AdType.PbAdv && PbAdvPdu.TryRead(structures.Data, out PbAdvPdu pdu, out _) && !pdu.GenericProvisioningPdu.IsEmpty)
                        heard.Take(frame.TimeNs, pdu.TransactionNumber, pdu.GenericProvisioningPdu);
            }
        }
        return heard;
    }

    private void Take(long timeNs, byte number, ReadOnlySpan<byte> pdu)
    {
        GenericProvisioningFormat format = GenericProvisioning.FormatOf(pdu[0]);
        LinkOpen |= Protocol.Provisioning.LinkOpen.TryRead(pdu, out _, out _);
        if (format == GenericProvisioningFormat.TransactionStart && TransactionStart.TryRead(pdu, out TransactionStart start, out _) && start.Data.Length > 0)
            _pdus.Add(new BearerPdu(timeNs, number, format, 0, start.Data[0]));
        else if (format == GenericProvisioningFormat.TransactionContinuation && TransactionContinuation.TryRead(pdu, out TransactionContinuation next, out _))
            _pdus.Add(new BearerPdu(timeNs, number, format, next.SegmentIndex, -1));
        else if (LinkClose.TryRead(pdu, out LinkClose close, out _))
            _pdus.Add(new BearerPdu(timeNs, number, format, 0, (int)close.Reason));
        else if (format == GenericProvisioningFormat.TransactionAcknowledgment)
            _pdus.Add(new BearerPdu(timeNs, number, format, 0, -1));
    }

    /// <summary>A Transaction Start with this PDU, which fits into one segment, was heard: when, or null.</summary>
    public long? TimeOf(ProvisioningPduType type) =>
        _pdus.Where(pdu => pdu.Format == GenericProvisioningFormat.TransactionStart && pdu.Told == (int)type).Select(pdu => (long?)pdu.TimeNs).FirstOrDefault();

    public bool IsClosed(LinkCloseReason reason) => _pdus.Exists(pdu => pdu.Format == GenericProvisioningFormat.ProvisioningBearerControl && pdu.Told == (int)reason);

    /// <summary>Sendings heard of the segment that was heard in most of them.</summary>
    public int MostSendings => _pdus.Where(pdu => pdu.Format is GenericProvisioningFormat.TransactionStart or GenericProvisioningFormat.TransactionContinuation)
        .GroupBy(pdu => (pdu.Number, pdu.Segment)).Select(segment => segment.Select(pdu => pdu.TimeNs).Order().ToList())
        .Select(times => 1 + times.Zip(times.Skip(1), (a, b) => b - a).Count(gap => gap > SendingNs)).DefaultIfEmpty(0).Max();

    /// <summary>
    /// A link that ended at the confirmations: chance that what would have followed had been missed, by the share heard of what each end sent till then.
    /// </summary>
    public double ChanceRestMissed => MissChance(false, ProvisionerToCome) * MissChance(true, DeviceToCome);

    private double MissChance(bool device, int toCome)
    {
        // Acknowledgments bear the number of what they acknowledge: the other end sends them.
        int heard = _pdus.Where(pdu => pdu.Format != GenericProvisioningFormat.ProvisioningBearerControl && (pdu.Number & 0x7F) <= 3
                && pdu.FromDevice == (device ^ (pdu.Format == GenericProvisioningFormat.TransactionAcknowledgment)))
            .Select(pdu => (pdu.Number, pdu.Format, pdu.Segment)).Distinct().Count();
        return Math.Pow(1 - Analysis.Completeness.ShareInterval.Of(Math.Min(heard, SentTillConfirmation), SentTillConfirmation).Low, toCome);
    }
}
