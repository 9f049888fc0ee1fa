using System.Buffers.Binary;
using MeshTrace.Protocol;
using MeshTrace.Protocol.Access;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Analysis.Commissioning;

/// <summary>What a Config message does to a subscription list.</summary>
internal enum SubscriptionAction : byte
{
    Add,
    Delete,
    DeleteAll,
    Overwrite,
}

/// <summary>A change of a subscription list as a Config message asked for it.</summary>
internal readonly record struct SubscriptionChange(long TimeNs, MeshAddress Element, uint Model, SubscriptionAction Action, MeshAddress Address);

/// <summary>
/// Subscription lists as the Config messages on the air change them (Mesh Protocol 1.1 §4.3.2.19 and following). A change counts from its request on,
/// and is taken back when its Status refuses it: the Status may be the thing that was not heard.
/// </summary>
internal sealed class SubscriptionsHeard
{
    private readonly List<SubscriptionChange> _changes = [];

    public bool Any => _changes.Count > 0;

    /// <summary>Takes a decrypted access message.</summary>
    public void Take(long timeNs, Opcode opcode, ReadOnlySpan<byte> payload)
    {
        ReadOnlySpan<byte> parameters = payload[opcode.Octets..];
        switch (opcode.Value)
        {
            case 0x801B: Add(timeNs, parameters, SubscriptionAction.Add, addressOctets: 2); break;
            case 0x801C: Add(timeNs, parameters, SubscriptionAction.Delete, addressOctets: 2); break;
            case 0x801D: Add(timeNs, parameters, SubscriptionAction.DeleteAll, addressOctets: 0); break;
            case 0x801E: Add(timeNs, parameters, SubscriptionAction.Overwrite, addressOctets: 2); break;
            case 0x8020: Add(timeNs, parameters, SubscriptionAction.Add, addressOctets: 16); break;
            case 0x8021: Add(timeNs, parameters, SubscriptionAction.Delete, addressOctets: 16); break;
            case 0x8022: Add(timeNs, parameters, SubscriptionAction.Overwrite, addressOctets: 16); break;
            case 0x801F when parameters.Length >= 7 && parameters[0] != 0: TakeBack(timeNs, parameters); break;
        }
    }

    /// <summary>Changes up to a time, oldest first.</summary>
    public IEnumerable<SubscriptionChange> UpTo(long timeNs)
    {
        foreach (SubscriptionChange change in _changes)
            if (change.TimeNs <= timeNs)
                yield return change;
    }

    public void Clear() => _changes.Clear();

    private void Add(long timeNs, ReadOnlySpan<byte> parameters, SubscriptionAction action, int addressOctets)
    {
        int modelAt = 2 + addressOctets;
        if (!TryReadModel(parameters, modelAt, out uint model))
            return;
        MeshAddress address = addressOctets switch
        {
            2 => new MeshAddress(BinaryPrimitives.ReadUInt16LittleEndian(parameters[2..])),
            16 => VirtualAddress.Of(parameters.Slice(2, 16)),
            _ => MeshAddress.Unassigned,
        };
        _changes.Add(new SubscriptionChange(timeNs, new MeshAddress(BinaryPrimitives.ReadUInt16LittleEndian(parameters)), model, action, address));
    }

    private void TakeBack(long timeNs, ReadOnlySpan<byte> status)
    {
        const long longestWait = 30_000_000_000;    // timeout of an acknowledged message (§3.7.4.2)
        if (!TryReadModel(status, 5, out uint model))
            return;
        var element = new MeshAddress(BinaryPrimitives.ReadUInt16LittleEndian(status[1..]));
        for (int i = _changes.Count - 1; i >= 0; i--)
        {
            SubscriptionChange change = _changes[i];
            if (timeNs - change.TimeNs > longestWait)
                return;
            if (change.Element == element && change.Model == model)
            {
                _changes.RemoveAt(i);
                return;
            }
        }
    }

    /// <summary>A SIG model has 2 octets, a vendor model company and model in 4 (§4.2.22); the length tells which.</summary>
    private static bool TryReadModel(ReadOnlySpan<byte> parameters, int at, out uint model)
    {
        model = 0;
        if (parameters.Length == at + 2)
            model = BinaryPrimitives.ReadUInt16LittleEndian(parameters[at..]);
        else if (parameters.Length == at + 4)
            model = ((uint)BinaryPrimitives.ReadUInt16LittleEndian(parameters[at..]) << 16) | BinaryPrimitives.ReadUInt16LittleEndian(parameters[(at + 2)..]);
        else
            return false;
        return true;
    }
}
