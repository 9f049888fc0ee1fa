using MeshTrace.Analysis.Commissioning;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Provisioning;

namespace MeshTrace.Analysis.Redaction;

/// <summary>
/// Makes provisioning again: links, transactions, what each PDU is and what the device can do stay; the device's UUID becomes a pseudonym; public keys, confirmations, random
/// values and data become other octets, which open with no key.
/// </summary>
internal sealed class ProvisioningRedactor(IReadOnlyList<ProvisioningLink> links, Pseudonyms pseudonyms)
{
    private readonly Dictionary<uint, ProvisioningLink> _byLinkId = links.Where(link => link.IsPbAdv).DistinctBy(link => link.LinkId).ToDictionary(link => link.LinkId);

    /// <summary>A PB-ADV PDU, in place.</summary>
    public void Bearer(Span<byte> octets)
    {
        if (!PbAdvPdu.TryRead(octets, out PbAdvPdu bearer, out _))
        {
            pseudonyms.Octets(octets);
            return;
        }
        (uint linkId, byte number) = (bearer.LinkId, bearer.TransactionNumber);
        pseudonyms.Octets(octets[..sizeof(uint)], PseudonymOf.Link);
        Span<byte> pdu = octets[PbAdvPdu.HeaderLength..];
        if (LinkOpen.TryRead(pdu, out LinkOpen open, out _))
            LinkOpen.Write(pdu, pseudonyms.Uuid(open.DeviceUuid));
        else if (TransactionStart.TryRead(pdu, out TransactionStart start, out _))
        {
            byte[]? whole = Find(linkId, number, 0, start.Data);
            whole?.AsSpan(0, start.Data.Length).CopyTo(pdu[TransactionStart.HeaderLength..]);
            if (whole is null && pdu.Length > TransactionStart.HeaderLength + 1)
                pseudonyms.Octets(pdu[(TransactionStart.HeaderLength + 1)..]);      // the type stays
            if (whole is not null)
                pdu[TransactionStart.HeaderLength - 1] = ProvisioningFcs.Compute(whole);
        }
        else if (TransactionContinuation.TryRead(pdu, out TransactionContinuation next, out _))
        {
            int at = TransactionStart.LongestData + ((next.SegmentIndex - 1) * TransactionContinuation.LongestData);
            byte[]? whole = Find(linkId, number, at, next.Data);
            if (whole is null)
                pseudonyms.Octets(pdu[TransactionContinuation.HeaderLength..]);
            else
                whole.AsSpan(at, next.Data.Length).CopyTo(pdu[TransactionContinuation.HeaderLength..]);
        }
        else if (!LinkAck.TryRead(pdu, out _, out _) && !LinkClose.TryRead(pdu, out _, out _) && !TransactionAcknowledgment.TryRead(pdu, out _, out _))
            pseudonyms.Octets(pdu[1..]);
    }

    /// <summary>A whole provisioning PDU, in place.</summary>
    public void Pdu(Span<byte> octets)
    {
        if (!ProvisioningPdu.TryRead(octets, out ProvisioningPdu pdu, out _)
            || pdu.Type is not (ProvisioningPduType.Invite or ProvisioningPduType.Capabilities or ProvisioningPduType.Start or ProvisioningPduType.InputComplete
                or ProvisioningPduType.Complete or ProvisioningPduType.Failed))
            pseudonyms.Octets(octets[Math.Min(ProvisioningPdu.HeaderLength, octets.Length)..]);
    }

    /// <summary>The PDU that a segment is a part of, made again; null where it was never whole.</summary>
    private byte[]? Find(uint linkId, byte number, int at, ReadOnlySpan<byte> segment)
    {
        if (!_byLinkId.TryGetValue(linkId, out ProvisioningLink? link))
            return null;
        foreach (ProvisioningPduRecord record in link.Pdus)
        {
            if (record.Transaction != number || at + segment.Length > record.Octets.Length || !record.Octets.AsSpan(at, segment.Length).SequenceEqual(segment))
                continue;
            byte[] whole = [.. record.Octets];
            Pdu(whole);
            return whole;
        }
        return null;
    }
}
