using MeshTrace.Protocol;
using MeshTrace.Protocol.Provisioning;
using MeshTrace.Protocol.Security;
using MeshTrace.Synthesis.Scenarios;

namespace MeshTrace.Synthesis.Nodes.Provisioning;

/// <summary>
/// The numbers of one provisioning (Mesh Protocol 1.1 §5.4): key pairs, random values, confirmations, device key. All follow from the plan,
/// so that the description can have the device key before the radio has carried anything.
/// </summary>
internal sealed class ProvisioningSession
{
    private const ushort BothAlgorithms = 0x0003;
    private readonly ProvisioningSecurity _security;
    private readonly ProvisionPlan _plan;
    private readonly byte[] _salt = new byte[16];

    internal ProvisioningSession(ProvisionPlan plan, int elements)
    {
        _plan = plan;
        bool isStatic = plan.StaticOob is not null;
        Invite = Pdu(octets => ProvisioningInvite.Write(octets, plan.AttentionS));
        Capabilities = Pdu(octets => ProvisioningCapabilities.Write(octets, (byte)elements, BothAlgorithms, 0, (byte)(isStatic ? 1 : 0), 0, 0, 0, 0));
        Start = Pdu(octets => ProvisioningStart.Write(octets, plan.Algorithm, PublicKeyUse.NoOob,
            isStatic ? AuthenticationMethod.StaticOob : AuthenticationMethod.NoOob, 0, 0));
        byte[] provisioner = PublicKeyOf(plan.ProvisionerPrivateKey), device = PublicKeyOf(plan.DevicePrivateKey);
        ProvisionerPublicKey = [(byte)ProvisioningPduType.PublicKey, .. provisioner];
        DevicePublicKey = [(byte)ProvisioningPduType.PublicKey, .. device];
        byte[] secret = new byte[EllipticCurve.SecretLength];
        if (!EllipticCurve.TryGetSharedSecret(plan.ProvisionerPrivateKey, device, secret))
            throw new InvalidOperationException("a public key made here is a point of the curve");
        _security = new ProvisioningSecurity(plan.Algorithm, secret,
            [.. Invite.AsSpan(1), .. Capabilities.AsSpan(1), .. Start.AsSpan(1), .. provisioner, .. device]);
        byte[] deviceKey = new byte[16];
        _security.ComputeProvisioningSalt(plan.ProvisionerRandom, plan.DeviceRandom, _salt);
        _security.ComputeDeviceKey(_salt, deviceKey);
        DeviceKey = deviceKey;
    }

    internal byte[] Invite { get; }
    internal byte[] Capabilities { get; }
    internal byte[] Start { get; }
    internal byte[] ProvisionerPublicKey { get; }
    internal byte[] DevicePublicKey { get; }
    internal byte[] DeviceKey { get; }

    internal byte[] ProvisionerConfirmation => Confirmation(_plan.ProvisionerRandom, _plan.AuthValue);

    /// <summary>A device that knows another value confirms that one (a fault).</summary>
    internal byte[] DeviceConfirmation => Confirmation(_plan.DeviceRandom, _plan.DeviceAuthValue);
    internal byte[] ProvisionerRandom => [(byte)ProvisioningPduType.Random, .. _plan.ProvisionerRandom];
    internal byte[] DeviceRandom => [(byte)ProvisioningPduType.Random, .. _plan.DeviceRandom];

    /// <summary>True if the confirmation that the provisioner sent is the one that the device works out from its random value.</summary>
    internal bool DeviceAgrees => _security.Confirms(ProvisionerConfirmation.AsSpan(1), _plan.ProvisionerRandom, _plan.DeviceAuthValue);

    /// <summary>Likewise at the provisioner.</summary>
    internal bool ProvisionerAgrees => _security.Confirms(DeviceConfirmation.AsSpan(1), _plan.DeviceRandom, _plan.AuthValue);

    /// <summary>Provisioning Data (§5.4.1.8).</summary>
    internal byte[] Data(SubnetKeys subnet, bool keyRefresh, uint ivIndex, bool ivUpdate, MeshAddress unicast)
    {
        byte[] plain = new byte[PlainProvisioningData.Length], encrypted = new byte[PlainProvisioningData.Length + ProvisioningData.MicLength];
        PlainProvisioningData.Write(plain, subnet.Material.Octets, (ushort)subnet.Index, (byte)((keyRefresh ? 1 : 0) | (ivUpdate ? 2 : 0)), ivIndex, unicast);
        _security.EncryptData(_salt, plain, encrypted);
        return [(byte)ProvisioningPduType.Data, .. encrypted];
    }

    private byte[] Confirmation(byte[] random, byte[] authValue)
    {
        byte[] confirmation = new byte[_security.ConfirmationLength];
        _security.ComputeConfirmation(random, authValue, confirmation);
        return [(byte)ProvisioningPduType.Confirmation, .. confirmation];
    }

    private static byte[] PublicKeyOf(byte[] privateKey)
    {
        byte[] key = new byte[EllipticCurve.PublicKeyLength];
        return EllipticCurve.TryGetPublicKey(privateKey, key) ? key : throw new ArgumentException("no private key of the curve", nameof(privateKey));
    }

    private static byte[] Pdu(Func<byte[], int> write)
    {
        byte[] octets = new byte[64];
        return octets[..write(octets)];
    }
}
