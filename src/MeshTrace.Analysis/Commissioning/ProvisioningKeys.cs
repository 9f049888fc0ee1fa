using MeshTrace.Analysis.Keys;
using MeshTrace.Analysis.Nodes;
using MeshTrace.Protocol.Provisioning;
using MeshTrace.Protocol.Security;

namespace MeshTrace.Analysis.Commissioning;

/// <summary>What a private key of one side opened of a provisioning.</summary>
public enum ConfirmationCheck : byte
{
    /// <summary>No private key fits either side, or not all PDUs were heard.</summary>
    NotChecked,

    /// <summary>Every confirmation heard fits its Random and the authentication value.</summary>
    Right,

    /// <summary>A confirmation does not fit: the authentication value is another one than given.</summary>
    Wrong,
}

/// <summary>What became of the private keys given, for one provisioning.</summary>
public enum PrivateKeyUse : byte
{
    NoneGiven,

    /// <summary>Invite to Random of both sides are needed beside the Data, and not all were heard.</summary>
    NotAllHeard,

    /// <summary>Both public keys were heard, and no key given belongs to one of them.</summary>
    OfNeitherSide,

    /// <summary>It opened the provisioning data.</summary>
    Opened,

    /// <summary>It belongs to a side, and the provisioning data did not open all the same.</summary>
    OpenedNothing,
}

/// <summary>
/// Opens a provisioning with a private key of either side (Mesh Protocol 1.1 §5.4.2): finds the side the key belongs to by its public key, checks the
/// confirmations, and learns NetKey and device key. Without such a key a passive listener cannot, whatever out-of-band value is known.
/// </summary>
internal sealed class ProvisioningKeys(KeyRing keys, NodeDirectory nodes, IReadOnlyList<ReadOnlyMemory<byte>> privateKeys, IReadOnlyList<ReadOnlyMemory<byte>> authValues)
{
    /// <summary>Called after each PDU of a link; does its work when the provisioning data has come.</summary>
    public void Take(ProvisioningLink link)
    {
        if (Parameters(link, ProvisioningPduType.Capabilities) is [var elements, ..])
            link.Elements = elements;
        if (link.KeysLearnt || privateKeys.Count == 0)
            return;
        link.PrivateKey = IsOfNeitherSide(link) ? PrivateKeyUse.OfNeitherSide : PrivateKeyUse.NotAllHeard;
        if (link.Pdus[^1].Type != (byte)ProvisioningPduType.Data || TrySecure(link) is not { } security)
            return;
        byte[]? provisionerRandom = Parameters(link, ProvisioningPduType.Random, fromDevice: false), deviceRandom = Parameters(link, ProvisioningPduType.Random, fromDevice: true);
        if (provisionerRandom?.Length != security.ConfirmationLength || deviceRandom?.Length != security.ConfirmationLength)
            return;
        link.Confirmation = Check(link, security, provisionerRandom, deviceRandom);

        Span<byte> salt = stackalloc byte[16];
        security.ComputeProvisioningSalt(provisionerRandom, deviceRandom, salt);
        Span<byte> data = stackalloc byte[ProvisioningSecurity.DataLength];
        link.PrivateKey = PrivateKeyUse.OpenedNothing;
        if (!security.TryDecryptData(salt, Parameters(link, ProvisioningPduType.Data), data) || !PlainProvisioningData.TryRead(data, out PlainProvisioningData plain, out _))
            return;
        link.PrivateKey = PrivateKeyUse.Opened;
        Learn(link, security, salt, plain);
    }

    private bool IsOfNeitherSide(ProvisioningLink link)
    {
        byte[]? provisioner = Parameters(link, ProvisioningPduType.PublicKey, fromDevice: false), device = Parameters(link, ProvisioningPduType.PublicKey, fromDevice: true);
        if (provisioner is null || device is null)
            return false;
        Span<byte> own = stackalloc byte[EllipticCurve.PublicKeyLength];
        foreach (ReadOnlyMemory<byte> key in privateKeys)
            if (EllipticCurve.TryGetPublicKey(key.Span, own) && (own.SequenceEqual(provisioner) || own.SequenceEqual(device)))
                return false;
        return true;
    }

    private void Learn(ProvisioningLink link, ProvisioningSecurity security, ReadOnlySpan<byte> salt, PlainProvisioningData plain)
    {
        Span<byte> deviceKey = stackalloc byte[16];
        security.ComputeDeviceKey(salt, deviceKey);
        (int subnet, _) = keys.AddNetKey(plain.NetworkKey, plain.KeyIndex, KeyOrigin.Provisioning);
        keys.AddDeviceKey(plain.UnicastAddress, deviceKey, KeyOrigin.Provisioning);
        deviceKey.Clear();
        if (subnet >= 0 && keys.Subnets[subnet].IvIndex is null)
        {
            keys.Subnets[subnet].IvIndex = plain.IvIndex;
            keys.Subnets[subnet].IvIndexOrigin = IvIndexOrigin.Provisioning;
        }
        if (link.Elements is { } elements)
            nodes.Hear(plain.UnicastAddress, elements);
        link.Unicast = plain.UnicastAddress;
        link.NetKeyIndex = plain.KeyIndex;
        link.KeysLearnt = true;
    }

    /// <summary>The ECDH secret from the private key that belongs to one of the two public keys heard, and from the PDUs that the confirmation covers.</summary>
    private ProvisioningSecurity? TrySecure(ProvisioningLink link)
    {
        byte[]? invite = Parameters(link, ProvisioningPduType.Invite), capabilities = Parameters(link, ProvisioningPduType.Capabilities), start = Parameters(link, ProvisioningPduType.Start);
        byte[]? provisioner = Parameters(link, ProvisioningPduType.PublicKey, fromDevice: false), device = Parameters(link, ProvisioningPduType.PublicKey, fromDevice: true);
        if (invite is null || capabilities is null || start is null || provisioner is null)
            return null;
        Span<byte> own = stackalloc byte[EllipticCurve.PublicKeyLength], secret = stackalloc byte[EllipticCurve.SecretLength];
        foreach (ReadOnlyMemory<byte> key in privateKeys)
        {
            if (!EllipticCurve.TryGetPublicKey(key.Span, own))
                continue;
            byte[]? deviceKey = device ?? (own.SequenceEqual(provisioner) ? null : own.ToArray());  // the device's public key came out of band: it is the given one's
            if (deviceKey is null)
                continue;
            ReadOnlySpan<byte> peer = own.SequenceEqual(provisioner) ? deviceKey : own.SequenceEqual(deviceKey) ? provisioner : default;
            if (peer.IsEmpty || !EllipticCurve.TryGetSharedSecret(key.Span, peer, secret))
                continue;
            byte[] inputs = [.. invite, .. capabilities, .. start, .. provisioner, .. deviceKey];
            if (inputs.Length != ProvisioningSecurity.ConfirmationInputsLength || start[0] > 1)
                return null;
            return new ProvisioningSecurity((ProvisioningAlgorithm)start[0], secret, inputs);
        }
        return null;
    }

    private ConfirmationCheck Check(ProvisioningLink link, ProvisioningSecurity security, byte[] provisionerRandom, byte[] deviceRandom)
    {
        byte[]? provisioner = Parameters(link, ProvisioningPduType.Confirmation, fromDevice: false), device = Parameters(link, ProvisioningPduType.Confirmation, fromDevice: true);
        if (provisioner is null || device is null)
            return ConfirmationCheck.NotChecked;
        bool tried = false;
        foreach (byte[] value in AuthValuesFor(security.ConfirmationLength))
        {
            tried = true;
            if (security.Confirms(provisioner, provisionerRandom, value) && security.Confirms(device, deviceRandom, value))
                return ConfirmationCheck.Right;
        }
        return tried ? ConfirmationCheck.Wrong : ConfirmationCheck.NotChecked;
    }

    /// <summary>No OOB is a value of zeros (§5.4.2.4); a given value fills the front (static, alphanumeric) or, a number, the end.</summary>
    private IEnumerable<byte[]> AuthValuesFor(int length)
    {
        yield return new byte[length];
        foreach (ReadOnlyMemory<byte> given in authValues)
        {
            if (given.Length > length)
                continue;
            byte[] front = new byte[length], end = new byte[length];
            given.Span.CopyTo(front);
            given.Span.CopyTo(end.AsSpan(length - given.Length));
            yield return front;
            if (given.Length < length)
                yield return end;
        }
    }

    private static byte[]? Parameters(ProvisioningLink link, ProvisioningPduType type, bool? fromDevice = null)
    {
        ProvisioningPduRecord? found = link.Pdus.LastOrDefault(pdu => pdu.Type == (byte)type && (fromDevice is null || pdu.FromDevice == fromDevice));
        return found?.Octets[1..];
    }
}
