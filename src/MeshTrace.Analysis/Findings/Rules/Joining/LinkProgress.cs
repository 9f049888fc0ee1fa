using MeshTrace.Analysis.Commissioning;
using MeshTrace.Analysis.Completeness;
using MeshTrace.Protocol.Bearer;
using MeshTrace.Protocol.Provisioning;

namespace MeshTrace.Analysis.Findings.Rules.Joining;

/// <summary>
/// How far a link on the advertising bearer came, and what its silence afterwards is worth. Each end numbers its transactions from the first on and begins
/// the next only when the one before was acknowledged (Mesh Protocol 1.1 §5.3.3), so the highest number heard tells all that had been sent till then;
/// what was heard of it gives the share of each end's PDUs that the receivers hear.
/// </summary>
internal static class LinkProgress
{
    /// <summary>Segments of the PDUs that each end sends at least (§5.4.1; a public key has 65 octets, the data have 34).</summary>
    private static readonly int[] Provisioner = [1, 1, 3, 1, 1, 2], Device = [1, 3, 1, 1, 1], DeviceWithoutKey = [1, 1, 1, 1];

    /// <summary>Link Close is sent at least three times (§5.3.1.4.3).</summary>
    private const int Closes = 3;

    /// <summary>
    /// Chance that the link came to its end and all that was still to come was missed, at the lower end of the shares heard; 1 where nothing tells how
    /// well an end is heard.
    /// </summary>
    public static double ChanceEndWasMissed(ProvisioningLink link)
    {
        int[] device = IsKeySent(link) ? Device : DeviceWithoutKey;
        int provisionerSent = SentBy(link, false), deviceSent = SentBy(link, true);
        int provisionerLeft = Math.Max(0, Provisioner.Length - provisionerSent), deviceLeft = Math.Max(0, device.Length - deviceSent);
        double provisioner = MissChance(link, false, provisionerSent, deviceSent, Provisioner[^provisionerLeft..].Sum() + deviceLeft + Closes);
        return provisioner * MissChance(link, true, deviceSent, provisionerSent, device[^deviceLeft..].Sum() + provisionerLeft);
    }

    /// <summary>The device's public key goes over the link, not out of band; where the Start was missed it may be either.</summary>
    private static bool IsKeySent(ProvisioningLink link) => link.Pdus.Exists(pdu => pdu.Type == (byte)ProvisioningPduType.Start
        && ProvisioningStart.TryRead(pdu.Octets, out ProvisioningStart start, out _) && start.PublicKey == PublicKeyUse.NoOob);

    /// <summary>Transactions of an end up to the highest number of which anything was heard.</summary>
    private static int SentBy(ProvisioningLink link, bool device) =>
        link.Transactions.Where(one => IsOf(one, device)).Select(one => PlaceOf(one) + 1).DefaultIfEmpty(0).Max();

    /// <summary>Chance that so many more PDUs of an end were all missed.</summary>
    private static double MissChance(ProvisioningLink link, bool device, int sent, int sentByOther, int toCome)
    {
        int due = 0, heard = 0;
        for (int place = 0; place < sent; place++)
        {
            ProvisioningTransaction? own = link.Transactions.FirstOrDefault(one => IsOf(one, device) && PlaceOf(one) == place);
            due += own?.Segments ?? 1;
            heard += own?.SegmentsHeard ?? 0;
        }
        // The other end went on after the acknowledgment of each but its last one; that one counts where it was heard.
        for (int place = 0; place < sentByOther; place++)
        {
            bool acknowledged = link.Transactions.Any(one => IsOf(one, !device) && PlaceOf(one) == place && one.Acknowledgments > 0);
            due += acknowledged || place + 1 < sentByOther ? 1 : 0;
            heard += acknowledged ? 1 : 0;
        }
        return due == 0 ? 1 : Math.Pow(1 - ShareInterval.Of(Math.Min(heard, due), due).Low, toCome);
    }

    private static bool IsOf(ProvisioningTransaction transaction, bool device) => transaction.Number >= PbAdvPdu.FirstTransactionNumberOfDevice == device;

    private static int PlaceOf(ProvisioningTransaction transaction) => transaction.Number & (PbAdvPdu.FirstTransactionNumberOfDevice - 1);
}
