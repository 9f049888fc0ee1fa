using MeshTrace.Protocol;
using MeshTrace.Protocol.Provisioning;

namespace MeshTrace.Analysis.Commissioning;

public enum ProvisioningOutcome : byte
{
    Unfinished,
    Closed,
    Failed,
    Complete,
}

/// <summary>One provisioning PDU, however often its segments were sent.</summary>
/// <param name="TimeNs">First segment heard.</param>
/// <param name="Type">PDU type octet.</param>
/// <param name="Name">The standard's name.</param>
/// <param name="FromDevice">True if the device sent it.</param>
/// <param name="Transaction">Transaction number.</param>
/// <param name="Octets">The whole PDU, type octet first.</param>
public sealed record ProvisioningPduRecord(long TimeNs, byte Type, string Name, bool FromDevice, byte Transaction, byte[] Octets);

/// <summary>One provisioning link.</summary>
public sealed class ProvisioningLink
{
    /// <summary>Link ID of the advertising bearer; 0 for PB-GATT, which has none.</summary>
    public required uint LinkId { get; init; }

    /// <summary>Row of the connection that is the link (PB-GATT, Mesh Protocol 1.1 §5.2.2), or null for the advertising bearer and text logs.</summary>
    public int? Connection { get; init; }

    /// <summary>It has a Link ID: it is a link of the advertising bearer.</summary>
    public bool IsPbAdv { get; init; } = true;

    /// <summary>Provisioning bearer by its name in the standard (§5.2): "PB-ADV" or "PB-GATT"; null for PDUs of a text log that does not tell what carried them.</summary>
    public string? BearerName => IsPbAdv ? "PB-ADV" : Connection is null ? null : "PB-GATT";
    public Guid? DeviceUuid { get; internal set; }
    public long FirstTimeNs { get; internal set; }
    public long LastTimeNs { get; internal set; }
    public List<ProvisioningPduRecord> Pdus { get; } = [];

    /// <summary>When its last provisioning PDU was heard, else the link's last sign of life.</summary>
    public long EndNs => Pdus.Count > 0 ? Pdus[^1].TimeNs : LastTimeNs;

    /// <summary>Repeated bearer PDUs.</summary>
    public int Retransmissions { get; internal set; }

    /// <summary>Transactions of the advertising bearer, in the order heard; empty for PB-GATT, which has none.</summary>
    public IReadOnlyList<ProvisioningTransaction> Transactions => _transactions;
    private readonly List<ProvisioningTransaction> _transactions = [];

    /// <summary>Provisioning PDUs whose segments did not fit their frame check sequence (§5.3.1.1): damaged by who sent them, for frames with a wrong CRC are left out.</summary>
    public int WrongFcs { get; internal set; }
    public ProvisioningOutcome Outcome { get; internal set; }
    public string? Reason { get; internal set; }

    /// <summary>The device answered the Link Open.</summary>
    public bool Acknowledged { get; internal set; }

    /// <summary>Reason of the Link Close heard, or null.</summary>
    public LinkCloseReason? Close { get; internal set; }

    /// <summary>Number of elements by the device's Capabilities, or null.</summary>
    public byte? Elements { get; internal set; }
    public ConfirmationCheck Confirmation { get; internal set; }
    public MeshAddress? Unicast { get; internal set; }
    public int? NetKeyIndex { get; internal set; }
    public bool KeysLearnt { get; internal set; }

    /// <summary>What became of the private keys given.</summary>
    public PrivateKeyUse PrivateKey { get; internal set; }

    /// <summary>Counts a hearing; an acknowledgment has the number of the transaction that it acknowledges.</summary>
    internal void Hear(byte number, ReadOnlySpan<byte> pdu, long timeNs)
    {
        GenericProvisioningFormat format = GenericProvisioning.FormatOf(pdu[0]);
        if (format == GenericProvisioningFormat.ProvisioningBearerControl)
            return;
        ProvisioningTransaction? transaction = _transactions.Find(one => one.Number == number);     // some ten of them, 256 at most
        if (transaction is null)
            _transactions.Add(transaction = new ProvisioningTransaction(number));
        transaction.Hear(format, pdu, timeNs);
    }
}
